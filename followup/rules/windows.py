"""When a step is due, when its window opens and closes, and what today makes of that."""

import calendar
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

ABOUT_TO_CLOSE_DAYS = 7
MAX_OFFSET, MAX_WINDOW_DAYS = 1200, 3650
# Four years hold every length of a stretch of months; within a month, days 1 to 28 behave alike
# and the later ones are cut at the end of a shorter month.
TRIED_STARTS = tuple(
    date(year, month, day)
    for year in range(2023, 2027)
    for month in range(1, 13)
    for day in (1, 29, 30, 31)
    if day <= calendar.monthrange(year, month)[1]
)


@dataclass(frozen=True)
class StepPlan:
    """One timepoint of a protocol: offset in its own unit, window in days around it."""

    code: str
    offset_value: int
    offset_unit: str
    window_before_days: int
    window_after_days: int


@dataclass(frozen=True)
class Window:
    """First day, due day and last day of a review; all three are inside."""

    opens_on: date
    due_on: date
    closes_on: date

    def holds(self, day: date) -> bool:
        """Whether a day is inside."""
        return self.opens_on <= day <= self.closes_on


class Timing(StrEnum):
    """What today makes of an open review; derived from dates, never stored."""

    NOT_YET = "not_yet"
    IN_WINDOW = "in_window"
    LATE = "late"
    ABOUT_TO_CLOSE = "about_to_close"
    CLOSED = "closed"


def add_offset(start: date, value: int, unit: str) -> date:
    """Add days, weeks or months; a month that is too short ends at its last day.

    Raises ValueError for another unit.
    """
    if unit == "days":
        return start + timedelta(days=value)
    if unit == "weeks":
        return start + timedelta(weeks=value)
    if unit == "months":
        month = start.month - 1 + value
        year, month = start.year + month // 12, month % 12 + 1
        return date(year, month, min(start.day, calendar.monthrange(year, month)[1]))
    raise ValueError(f"'{unit}' is not a unit of offset; use days, weeks or months")


def window_for(operated_on: date, step: StepPlan) -> Window:
    """Return the window of a step counted from the day of operation, which it never precedes."""
    due = add_offset(operated_on, step.offset_value, step.offset_unit)
    opens = max(operated_on, due - timedelta(days=step.window_before_days))
    return Window(opens, due, due + timedelta(days=step.window_after_days))


def timing(window: Window, today: date) -> Timing:
    """Say where today lies."""
    if today < window.opens_on:
        return Timing.NOT_YET
    if today > window.closes_on:
        return Timing.CLOSED
    if (window.closes_on - today).days <= ABOUT_TO_CLOSE_DAYS:
        return Timing.ABOUT_TO_CLOSE
    return Timing.LATE if today > window.due_on else Timing.IN_WINDOW


def check_steps(steps: Sequence[StepPlan]) -> None:
    """Refuse steps whose codes repeat or whose windows overlap, whatever the day of operation.

    Raises ValueError naming the step, or the two.
    """
    if len({step.code for step in steps}) != len(steps):
        raise ValueError("two steps have the same code; each needs its own")
    for step in steps:
        _check_numbers(step)
    for start in TRIED_STARTS:
        ordered = sorted(
            ((window_for(start, step), step) for step in steps), key=lambda pair: pair[0].due_on
        )
        for (earlier, first), (later, second) in itertools.pairwise(ordered):
            if later.opens_on <= earlier.closes_on:
                raise ValueError(
                    f"the windows of '{first.code}' and '{second.code}' overlap "
                    f"(for an operation on {start}: {earlier.closes_on} and {later.opens_on}); "
                    "shorten one of them"
                )


def _check_numbers(step: StepPlan) -> None:
    limits = (
        ("offset", step.offset_value, MAX_OFFSET),
        ("days before", step.window_before_days, MAX_WINDOW_DAYS),
        ("days after", step.window_after_days, MAX_WINDOW_DAYS),
    )
    for name, value, high in limits:
        if not 0 <= value <= high:
            raise ValueError(f"'{step.code}': {name} is {value}; it goes from 0 to {high}")
