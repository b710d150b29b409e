from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.scores.disability import dash, module, quickdash
from followup.rules.scores.result import ScoreResult

Items = dict[int, float]


def answers(count: int, total: int) -> Items:
    """Return answers 1 to 5 to `count` items that add up to `total`."""
    low, extra = divmod(total, count)
    return {number: low + (number <= extra) for number in range(1, count + 1)}


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        # (25/11 - 1) x 25 = (2.272727 - 1) x 25
        (answers(11, 25), 31.818),
        # (23/10 - 1) x 25 = 1.3 x 25
        (answers(10, 23), 32.5),
        # (40/11 - 1) x 25 = 2.636364 x 25
        (answers(11, 40), 65.909),
        (dict.fromkeys(range(1, 12), 1), 0),
        (dict.fromkeys(range(1, 12), 5), 100),
    ],
)
def test_the_quickdash_is_the_mean_answer_less_one_times_25(items: Items, expected: float) -> None:
    assert quickdash(items).value == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        # (60/30 - 1) x 25, and by the other printed form (60 - 30)/1.2
        (answers(30, 60), 25.0),
        # (54/27 - 1) x 25
        (answers(27, 54), 25.0),
    ],
)
def test_the_dash_is_scored_by_the_same_rule(items: Items, expected: float) -> None:
    assert dash(items).value == pytest.approx(expected)


@given(items=st.fixed_dictionaries({n: st.integers(1, 5) for n in range(1, 31)}))
def test_both_printed_forms_of_the_dash_agree_when_it_is_complete(items: Items) -> None:
    assert dash(items).value == pytest.approx((sum(items.values()) - 30) / 1.2)


def test_a_module_needs_its_four_answers() -> None:
    # (8/4 - 1) x 25
    assert module({1: 1, 2: 2, 3: 2, 4: 3}).value == 25.0
    assert module({1: 1, 2: 2, 3: 2}).reason == "3 of 4 items answered; at least 4 are needed"


@pytest.mark.parametrize(
    ("score", "items", "says"),
    [
        (quickdash, answers(9, 20), "9 of 11 items answered; at least 10 are needed"),
        (dash, answers(26, 60), "26 of 30 items answered; at least 27 are needed"),
        (quickdash, {}, "0 of 11 items answered"),
        (quickdash, {**answers(11, 25), 12: 1}, "there is no item 12; items go from 1 to 11"),
        (quickdash, {**answers(11, 25), 4: 6}, "item 4 is 6; it goes from 1 to 5"),
    ],
)
def test_what_cannot_be_scored_says_why(
    score: Callable[[Items], ScoreResult], items: Items, says: str
) -> None:
    result = score(items)
    assert result.value is None
    assert says in result.reason


@given(
    items=st.dictionaries(st.integers(1, 11), st.integers(1, 5), min_size=10),
    worse=st.integers(1, 11),
)
def test_a_worse_answer_never_lowers_the_quickdash(items: Items, worse: int) -> None:
    before = quickdash(items).value
    after = quickdash({**items, worse: 5} if worse in items else items).value
    assert before is not None
    assert after is not None
    assert 0 <= before <= after <= 100


@given(
    items=st.fixed_dictionaries({n: st.integers(1, 5) for n in range(1, 12)}),
    shuffled=st.permutations(range(1, 12)),
)
def test_it_does_not_matter_which_item_got_which_answer(items: Items, shuffled: list[int]) -> None:
    moved = {number: items[place] for number, place in zip(range(1, 12), shuffled, strict=True)}
    assert quickdash(moved) == quickdash(items)


@given(
    items=st.dictionaries(st.integers(1, 30), st.integers(1, 5), min_size=27),
    worse=st.integers(1, 30),
)
def test_a_worse_answer_never_lowers_the_dash(items: Items, worse: int) -> None:
    before = dash(items).value
    after = dash({**items, worse: 5} if worse in items else items).value
    assert before is not None
    assert after is not None
    assert 0 <= before <= after <= 100
