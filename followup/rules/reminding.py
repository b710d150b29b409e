"""When somebody who has not answered is reminded.

Day 7 and day 12 after the invitation: a randomised trial (Am J Med Qual 2024), 63 % had answered by
day 7; of the others 51.1 % answered with texts and 34.5 % without.
"""

from collections.abc import Sequence

REMINDER_DAYS = (7, 12)
EXPIRY_DAYS = 21


def reminder_due(days_since: int, reminder_days: Sequence[int], reminded: int) -> int | None:
    """Return the number of the reminder that is due, counted from 1; None when none is.

    `days_since` counts from when the invitation went, `reminded` is the number of the last one. Where
    nights were missed, only the latest is sent.
    """
    due = sum(days_since >= day for day in reminder_days)
    return due if due > reminded else None


def checked_days(days: Sequence[int], expiry_days: int) -> tuple[int, ...]:
    """Return reminder days when they rise and lie before the link expires.

    Raises ValueError that says what is wrong.
    """
    for day in days:
        if not 1 <= day < expiry_days:
            raise ValueError(
                f"A reminder on day {day} makes no sense: the link works from day 0 to {expiry_days}."
            )
    if list(days) != sorted(set(days)):
        raise ValueError("Write the days in rising order, each once, for example 7, 12.")
    return tuple(days)
