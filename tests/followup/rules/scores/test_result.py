import pytest

from followup.rules.scores.result import Item, ScoreResult, fault_in, no_number, numbered, outside


def test_a_number_is_computable_even_when_it_is_zero() -> None:
    assert ScoreResult(0.0).computable


def test_no_number_says_why() -> None:
    result = no_number("pain was not answered")
    assert (result.value, result.computable) == (None, False)
    assert result.reason == "pain was not answered"


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        (0, "item 2 is 0; it goes from 1 to 5"),
        (6, "item 2 is 6; it goes from 1 to 5"),
        (2.5, "item 2 is 2.5; answers are whole numbers"),
        (float("nan"), "item 2 is nan; it goes from 1 to 5"),
    ],
)
def test_the_first_answer_that_cannot_be_is_named(answer: float, says: str) -> None:
    assert outside({3: 9, 1: 1, 2: answer}, 1, 5) == says


def test_the_ends_of_the_range_are_inside() -> None:
    assert outside({1: 1, 2: 5, 3: 3.0}, 1, 5) == ""


@pytest.mark.parametrize(
    ("items", "says"),
    [
        ({3: 1}, "there is no item 3; items go from 1 to 2"),
        ({1: 4}, "item 1 is 4; it goes from 0 to 3"),
        ({1: 1.5}, "item 1 is 1.5; answers are whole numbers"),
        ({2: 11}, "item 2 is 11; it goes from 0 to 10"),
        ({2: float("nan")}, "item 2 is nan; it goes from 0 to 10"),
        ({1: 3, 2: 4.5}, ""),
        ({}, ""),
    ],
)
def test_each_answer_is_held_against_its_own_item(items: dict[int, float], says: str) -> None:
    known = (*numbered(1, 0, 3), Item(2, 0, 10, whole=False))
    assert fault_in(items, known) == says
