"""Which frozen copies stay: the newest, and the last of each day, then of each month."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

NEWEST = 12
DAYS = 14


@dataclass(frozen=True)
class Copy:
    """One copy: its number, which grows with time, the day up to which it goes, whether it is held."""

    number: int
    on: date
    held: bool = False


def to_drop(copies: Iterable[Copy]) -> list[int]:
    """Return the numbers of the copies that nobody needs any more, in order.

    The newest stay, the last of each of the latest days, the last of each month, and what is held.
    """
    by_age = sorted(copies, key=lambda one: one.number, reverse=True)
    if not by_age:
        return []
    since = max(one.on for one in by_age) - timedelta(days=DAYS - 1)
    days: set[date] = set()
    months: set[tuple[int, int]] = set()
    dropped = []
    for place, one in enumerate(by_age):
        last_of_day = one.on >= since and one.on not in days
        last_of_month = (one.on.year, one.on.month) not in months
        days.add(one.on)
        months.add((one.on.year, one.on.month))
        if not (place < NEWEST or last_of_day or last_of_month or one.held):
            dropped.append(one.number)
    return sorted(dropped)
