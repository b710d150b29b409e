"""What was found on an injury and goes along with one of its operations, by the day alone."""

from collections.abc import Iterable
from datetime import date


def goes_along(day: date, moving: Iterable[date], staying: Iterable[date]) -> bool:
    """Say whether time at a day counts from an operation that goes, not from one that stays.

    It counts from the last operation up to that day; of two of one day, from the one that goes. What
    was found before any operation is the injury's.
    """
    last_moving = max((one for one in moving if one <= day), default=None)
    last_staying = max((one for one in staying if one <= day), default=None)
    if last_moving is None:
        return False
    return last_staying is None or last_moving >= last_staying
