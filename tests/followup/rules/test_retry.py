from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.retry import FIRST_WAIT, LONGEST_WAIT, MOST_TRIES, is_spent, wait_after


def test_the_wait_doubles_up_to_six_hours() -> None:
    waits = [wait_after(tries, 1.0) for tries in range(1, 11)]
    minutes = [2, 4, 8, 16, 32, 64, 128, 256, 360, 360]
    assert waits == [timedelta(minutes=one) for one in minutes]


@given(tries=st.integers(1, 10_000), chance=st.floats(0, 1))
def test_chance_spreads_a_wait_over_its_upper_half(tries: int, chance: float) -> None:
    wait, longest = wait_after(tries, chance), wait_after(tries, 1.0)
    assert longest / 2 <= wait <= longest
    assert FIRST_WAIT / 2 <= wait <= LONGEST_WAIT


@pytest.mark.parametrize(("tries", "chance"), [(0, 0.5), (-1, 0.5), (1, -0.1), (1, 1.1)])
def test_what_cannot_be_is_refused(tries: int, chance: float) -> None:
    with pytest.raises(ValueError, match="got"):
        wait_after(tries, chance)


def test_after_the_last_try_a_person_looks() -> None:
    assert [is_spent(MOST_TRIES - 1), is_spent(MOST_TRIES)] == [False, True]
