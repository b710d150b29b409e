import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.scores.ases import ases, from_numbers


def answers(total: int) -> dict[int, float]:
    """Return ten answers 0 to 3 that add up to `total`."""
    low, extra = divmod(total, 10)
    return {number: low + (number <= extra) for number in range(1, 11)}


@pytest.mark.parametrize(
    ("pain", "total", "expected"),
    [
        # (10 - 3) x 5 + 22 x 5/3 = 35 + 36.667
        (3, 22, 71.667),
        # (10 - 1.5) x 5 + 27 x 5/3 = 42.5 + 45
        (1.5, 27, 87.5),
        # (10 - 5) x 5 + 15 x 5/3 = 25 + 25
        (5, 15, 50.0),
        (0, 30, 100.0),
        (10, 0, 0.0),
    ],
)
def test_half_is_pain_and_half_is_function(pain: float, total: int, expected: float) -> None:
    assert ases(pain, answers(total)).value == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("pain", "items", "says"),
    [
        (None, answers(22), "pain was not answered"),
        (11, answers(22), "pain is 11; it goes from 0 to 10"),
        (float("nan"), answers(22), "pain is nan"),
        (3, {1: 2}, "1 of 10 items answered; all are needed"),
        (3, {**answers(22), 7: 4}, "item 7 is 4; it goes from 0 to 3"),
        (3, {**answers(22), 12: 1}, "there is no item 12; items go from 1 to 10"),
    ],
)
def test_what_cannot_be_scored_says_why(
    pain: float | None, items: dict[int, float], says: str
) -> None:
    result = ases(pain, items)
    assert result.value is None
    assert says in result.reason


@given(pain=st.floats(0, 10), total=st.integers(0, 30))
def test_the_score_stays_between_0_and_100(pain: float, total: int) -> None:
    value = ases(pain, answers(total)).value
    assert value is not None
    assert -1e-9 <= value <= 100 + 1e-9


def test_by_number_pain_is_the_eleventh() -> None:
    assert from_numbers({**answers(22), 11: 3}).value == pytest.approx(71.667, abs=5e-4)
    assert from_numbers(answers(22)).reason == "pain was not answered"


@given(
    pain=st.floats(0, 10),
    items=st.fixed_dictionaries({n: st.integers(0, 3) for n in range(1, 11)}),
    number=st.integers(1, 10),
    shuffled=st.permutations(range(1, 11)),
)
def test_better_answers_and_less_pain_never_lower_it_and_their_place_does_not_matter(
    pain: float, items: dict[int, float], number: int, shuffled: list[int]
) -> None:
    before = ases(pain, items).value
    better, eased = ases(pain, {**items, number: 3}).value, ases(0, items).value
    assert before is not None
    assert better is not None
    assert eased is not None
    assert before <= better
    assert before <= eased
    moved = {n: items[place] for n, place in zip(range(1, 11), shuffled, strict=True)}
    assert ases(pain, moved).value == pytest.approx(before)
