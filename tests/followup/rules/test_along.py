"""Which operation time counts from, by the day alone."""

from datetime import date

import pytest

from followup.rules.along import goes_along

JAN, FEB, MAR = date(2026, 1, 5), date(2026, 2, 5), date(2026, 3, 5)


@pytest.mark.parametrize(
    ("day", "moving", "staying", "goes"),
    [
        (date(2026, 1, 4), [JAN], [], False),
        (JAN, [JAN], [], True),
        (MAR, [JAN], [], True),
        (FEB, [JAN], [FEB], False),
        (date(2026, 2, 4), [JAN], [FEB], True),
        (MAR, [FEB], [JAN], True),
        (JAN, [FEB], [JAN], False),
        (FEB, [FEB], [FEB], True),
        (MAR, [JAN, MAR], [FEB], True),
        (FEB, [JAN, MAR], [FEB], False),
        (FEB, [], [JAN], False),
    ],
)
def test_what_is_found_belongs_to_the_last_operation_up_to_its_day(
    day: date, moving: list[date], staying: list[date], goes: bool
) -> None:
    assert goes_along(day, moving, staying) is goes
