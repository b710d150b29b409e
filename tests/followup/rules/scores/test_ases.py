import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.scores.ases import ases


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
