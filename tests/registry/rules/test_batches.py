import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules import batches

TYPED = st.text(alphabet="aLotO0IiS1279 -\u2013/.é", max_size=14)


@pytest.mark.parametrize(
    "typed", ["LOT42A", "lot 42a", "Lot-42-A", " LOT\u00a042A ", "LOT\u201342A"]
)
def test_capitals_spaces_and_hyphens_tell_no_two_batches_apart(typed: str) -> None:
    assert batches.folded(typed) == "LOT42A"
    assert batches.holds(batches.span("lot42a"), typed)


@pytest.mark.parametrize("typed", ["LOT42B", "LOT42", "LOT42AB", "LOT42A1", "XLOT42A", "", "  - "])
def test_another_batch_is_neither_the_same_nor_near(typed: str) -> None:
    wanted = batches.span("LOT42A")
    assert not batches.holds(wanted, typed)
    assert batches.nearness(wanted, typed) == ""


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("LOT42A21SN0042", "separator"),
        ("lot 42a 21 sn0042", "separator"),
        ("LOT42A17270101", "separator"),
        ("LOT42A1727010121SN1", "separator"),
        ("010950600013435210LOT42A", "label"),
        ("01095060001343521727010110LOT42A", "label"),
        ("L0T42A", "alike"),
        ("IOT42A", "alike"),
    ],
)
def test_what_may_be_the_batch_is_near_and_says_why(typed: str, why: str) -> None:
    wanted = batches.span("LOT42A")
    assert not batches.holds(wanted, typed)
    assert batches.nearness(wanted, typed) == why


def test_zeros_at_the_front_of_a_number_are_near_for_one_batch_and_no_matter_in_a_range() -> None:
    assert batches.nearness(batches.span("LOT7"), "LOT007") == "alike"
    assert batches.holds(batches.span("LOT7", "LOT9"), "LOT008")


@pytest.mark.parametrize(
    ("typed", "inside"),
    [
        ("LOT42A001", True),
        ("lot 42a 57", True),
        ("LOT42A-099", True),
        ("LOT42A100", False),
        ("LOT42A000", False),
        ("LOT42B050", False),
        ("LOT42A", False),
        ("050", False),
        ("", False),
    ],
)
def test_a_range_holds_the_same_beginning_and_a_number_between(typed: str, inside: bool) -> None:
    assert batches.holds(batches.span("LOT42A001", "LOT42A099"), typed) is inside


def test_numbers_of_a_range_go_by_value_and_not_by_letters() -> None:
    wanted = batches.span("A9", "A101")
    assert [n for n in range(200) if batches.holds(wanted, f"A{n}")] == list(range(9, 102))


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ("LOT42A1", "LOT42B9", "begin alike"),
        ("LOT42A", "LOT42F", "end in a number"),
        ("LOT9", "LOT1", "turn the two round"),
        (" - ", "LOT1", "first number"),
    ],
)
def test_two_ends_that_make_no_range_are_refused_in_words(
    first: str, last: str, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        batches.span(first, last)


def test_a_range_is_near_where_more_was_typed_behind_one_of_its_numbers() -> None:
    wanted = batches.span("LOT42A001", "LOT42A099")
    assert batches.nearness(wanted, "LOT42A05021SN7") == "separator"
    assert batches.nearness(wanted, "LOT42A15021SN7") == ""
    assert batches.nearness(wanted, "L0T42A050") == "alike"


@given(st.integers(0, 1200), st.integers(0, 1200), st.integers(0, 1200), st.integers(0, 4))
def test_the_pattern_of_a_range_takes_its_numbers_and_no_other(
    one: int, other: int, number: int, width: int
) -> None:
    low, high = sorted((one, other))
    wanted = batches.span(f"B{low:0{width}}", f"B{high:0{width}}")
    typed = f"B{number:0{width}}"
    inside = low <= number <= high
    assert batches.holds(wanted, typed) is inside
    run_on = re.search(batches.run_on(wanted), f"{typed}21X") is not None
    # Digits that run into those of the next field can be read as a shorter number, too.
    shorter = any(
        batches.holds(wanted, typed[:cut]) and re.fullmatch(batches.FOLLOWS, f"{typed[cut:]}21X")
        for cut in range(2, len(typed))
    )
    assert run_on is (inside or shorter)


@given(TYPED, TYPED)
def test_what_is_the_same_is_never_near_and_folding_twice_is_folding_once(a: str, b: str) -> None:
    assert batches.folded(batches.folded(a)) == batches.folded(a)
    if not batches.folded(a):
        return
    wanted = batches.span(a)
    assert batches.holds(wanted, a)
    assert not (batches.holds(wanted, b) and batches.nearness(wanted, b))
    assert batches.holds(wanted, b) == (batches.folded(a) == batches.folded(b))


def test_a_span_is_written_as_people_write_it() -> None:
    assert str(batches.span("LOT1", "LOT9")) == "LOT1 to LOT9"
    assert str(batches.span("LOT1")) == "LOT1"
