"""Who of the ticked gets which time of a clinic day."""

from datetime import date, time, timedelta

from hypothesis import given
from hypothesis import strategies as st

from followup.rules.clinic_list import Asked, Left, Seat, fill
from followup.rules.windows import Window

DAY = date(2026, 12, 1)
OPEN = Window(DAY - timedelta(days=5), DAY, DAY + timedelta(days=5))
NINE, TEN = time(9), time(9, 10)


def window(opens: int, closes: int) -> Window:
    first, last = DAY + timedelta(days=opens), DAY + timedelta(days=closes)
    return Window(first, first, last)


def test_the_free_times_go_to_the_most_urgent_first() -> None:
    seats, left = fill([Asked(7, OPEN, "planned"), Asked(3, OPEN, "missed")], [TEN, NINE], DAY)
    assert seats == [Seat(7, NINE), Seat(3, TEN)]
    assert left == []


def test_who_does_not_fit_is_left_with_the_reason_and_takes_no_time() -> None:
    asked = [
        Asked(1, OPEN, "planned", here=False),
        Asked(2, OPEN, "booked", booked_on=DAY),
        Asked(3, OPEN, "not_needed"),
        Asked(4, window(1, 9), "planned"),
        Asked(5, window(-9, -1), "planned"),
        Asked(6, window(0, 0), "planned"),
        Asked(7, OPEN, "planned"),
    ]
    seats, left = fill(asked, [NINE], DAY)
    assert seats == [Seat(6, NINE)]
    assert left == [
        Left(1, "is a patient of another site"),
        Left(2, "is booked on 01 Dec 2026 already"),
        Left(3, "the review is not needed and takes no slot"),
        Left(4, "the window opens later, on 02 Dec 2026"),
        Left(5, "the window closes before, on 30 Nov 2026"),
        Left(7, "no slot of this clinic is left on this day"),
    ]


@given(
    windows=st.lists(st.tuples(st.integers(-20, 5), st.integers(0, 20)), max_size=20),
    slots=st.integers(0, 12),
)
def test_nobody_is_given_a_time_twice_or_outside_the_window(
    windows: list[tuple[int, int]], slots: int
) -> None:
    asked = [
        Asked(n, window(opens, opens + length), "planned")
        for n, (opens, length) in enumerate(windows)
    ]
    free = [time(9 + n // 6, n % 6 * 10) for n in range(slots)]
    seats, left = fill(asked, free, DAY)
    fitting = [one.key for one in asked if one.window.holds(DAY)]
    assert [seat.key for seat in seats] == fitting[:slots]
    assert [seat.at for seat in seats] == free[: len(seats)]
    assert {seat.key for seat in seats} | {one.key for one in left} == set(range(len(asked)))
