import pytest

from registry.rules.fhir import queries
from registry.rules.fhir.outcomes import Refused

KNOWN = {"code": "token", "patient": "reference", "date": "date"}


def test_values_are_any_of_and_repeats_are_all_of() -> None:
    query = queries.parse([("code", "a,b\\,c"), ("code", "d")], KNOWN)
    assert [one.values for one in query.given] == [("a", "b,c"), ("d",)]


def test_an_unknown_parameter_is_passed_over_and_told_or_refused_when_strict() -> None:
    query = queries.parse([("colour", "red"), ("code", "a")], KNOWN)
    assert query.pairs == (("code", "a"),)
    assert "no parameter 'colour'" in query.passed_over[0].words
    with pytest.raises(Refused, match="no parameter 'colour'"):
        queries.parse([("colour", "red")], KNOWN, strict=True)


def test_a_modifier_that_is_not_known_is_refused_in_either_case() -> None:
    with pytest.raises(Refused, match="modifier ':missing'"):
        queries.parse([("code:missing", "true")], KNOWN)
    (given,) = queries.parse([("patient:Patient", "K")], KNOWN).given
    assert given.values == ("Patient/K",)


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([("_count", "many")], "no whole number"),
        ([("_page", "%%%")], "Follow the link"),
        ([("_page", queries.next_cursor(-1, 3))], "Follow the link"),
        ([("_summary", "text")], "_summary"),
        ([("_total", "some")], "_total"),
    ],
)
def test_what_shapes_the_answer_is_held_to_what_there_is(
    pairs: list[tuple[str, str]], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        queries.parse(pairs, KNOWN)


def test_another_format_than_json_is_not_acceptable() -> None:
    with pytest.raises(Refused) as fault:
        queries.parse([("_format", "xml")], KNOWN)
    assert fault.value.status == 406


def test_a_page_has_at_most_two_hundred_and_remembers_its_place() -> None:
    query = queries.parse([("_count", "5000"), ("_page", queries.next_cursor(2, 17))], KNOWN)
    assert (query.count, query.cursor, query.first_page) == (200, (2, 17), False)
    assert queries.parse([("_count", "0")], KNOWN).only_count
    assert queries.parse([("_summary", "count")], KNOWN).only_count


def test_a_token_has_any_system_or_none_or_one() -> None:
    assert queries.token("a") == (None, "a")
    assert queries.token("|a") == ("", "a")
    assert queries.token("s|a") == ("s", "a")


@pytest.mark.parametrize("pair", [("code", "a\x00"), ("co\x00de", "a"), ("_page", "\x00")])
def test_the_sign_nul_is_refused_wherever_it_stands(pair: tuple[str, str]) -> None:
    with pytest.raises(Refused, match="the sign NUL"):
        queries.parse([pair], KNOWN)
