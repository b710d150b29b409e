import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.models.films import FractureLine, Union
from followup.rules import union
from followup.rules.union import disagreement, proposed

COUNTS = st.integers(0, 4)
LEAST = st.integers(1, 4)


@pytest.mark.parametrize(
    ("cortices", "line", "least", "found"),
    [
        (4, "not_visible", 3, "united"),
        (3, "not_done", 3, "united"),
        (3, "unknown", 3, "united"),
        (2, "not_visible", 3, "partial"),
        (2, "not_visible", 2, "united"),
        (4, "visible", 3, "partial"),
        (1, "visible", 3, "partial"),
        (0, "visible", 3, "none"),
        (0, "not_done", 3, "none"),
    ],
)
def test_cortices_and_the_line_give_what_the_rule_says(
    cortices: int, line: str, least: int, found: str
) -> None:
    by_rule = proposed(cortices, line, least=least)
    assert by_rule is not None
    assert by_rule.union == found
    assert found in Union.values


def test_nothing_is_proposed_where_cortices_cannot_be_counted_or_the_signs_differ() -> None:
    assert proposed(None, "not_visible", least=3) is None
    assert proposed(0, "not_visible", least=3) is None


@pytest.mark.parametrize(("cortices", "least"), [(5, 3), (-1, 3), (2, 0), (2, 5)])
def test_impossible_counts_are_refused(cortices: int, least: int) -> None:
    with pytest.raises(ValueError, match="cortices cannot be"):
        proposed(cortices, "visible", least=least)


def test_the_rule_says_why_and_differs_only_from_a_union_that_was_judged() -> None:
    by_rule = proposed(2, "visible", least=3)
    assert by_rule is not None
    assert (by_rule.words, by_rule.why) == (
        "partly united",
        "2 of 4 cortices bridged, 3 asked for",
    )
    assert disagreement("united", by_rule) == (
        "by the site's rule partly united: 2 of 4 cortices bridged, 3 asked for"
    )
    for stated in ("partial", "unknown", "not_applicable"):
        assert disagreement(stated, by_rule) == ""
    assert disagreement("united", None) == ""


@given(COUNTS, st.sampled_from(FractureLine.values), LEAST)
def test_one_more_bridged_cortex_never_makes_less_of_a_union(
    cortices: int, line: str, least: int
) -> None:
    order = ["none", "partial", "united"]
    fewer = proposed(max(cortices - 1, 0), line, least=least)
    more = proposed(cortices, line, least=least)
    if fewer is not None and more is not None:
        assert order.index(fewer.union) <= order.index(more.union)


def test_the_words_of_union_are_those_of_the_readings() -> None:
    for code, words in union.WORDS.items():
        assert str(Union(code).label).lower() == words
