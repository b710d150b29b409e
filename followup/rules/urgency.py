"""The order of the Due list: what is lost by waiting comes first, and each place says why.

The list is ordered and paged in the database. Its CASE expression copies this table, top row first,
and orders by the day due inside a tier:

1 REMOVAL_OVERDUE        the construct is meant to come out, is past its removal time, is still in,
                         and its removal is neither declined nor deferred to a day to come; stands
                         at the operation's next open review, whenever that is due
2 FILM_WINDOW_CLOSING    a film that the step asks for, by view and side, was not taken in the
                         window and can be had, and the window closes within ABOUT_TO_CLOSE_DAYS
3 EARLY_AFTER_DEPARTURE  window open, due within EARLY_STEPS_CLOSE_WITHIN_DAYS of the operation,
                         and the construct departs from a construct check
4 LATE                   the due day has passed
5 IN_WINDOW              the window is open
6 LATER                  everything else
"""

from dataclasses import dataclass
from datetime import date
from enum import IntEnum


class Tier(IntEnum):
    """A smaller number stands higher on the list."""

    REMOVAL_OVERDUE = 1
    FILM_WINDOW_CLOSING = 2
    EARLY_AFTER_DEPARTURE = 3
    LATE = 4
    IN_WINDOW = 5
    LATER = 6


EARLY_STEPS_CLOSE_WITHIN_DAYS = 56


@dataclass(frozen=True)
class DueFacts:
    """What the place of one review depends on; days are counted from today."""

    tier: Tier
    today: date
    due_on: date
    closes_on: date
    removal_due_on: date | None = None
    is_booked: bool = False


def reason(facts: DueFacts) -> str:
    """Say in words why a review stands where it does."""
    closes = (facts.closes_on - facts.today).days
    if facts.tier == Tier.REMOVAL_OVERDUE and facts.removal_due_on is not None:
        days = (facts.today - facts.removal_due_on).days
        return f"Hardware that is meant to come out is {_days(days)} past its time"
    if facts.tier == Tier.FILM_WINDOW_CLOSING:
        return f"A film is still missing; {_closing(closes)}"
    if facts.tier == Tier.EARLY_AFTER_DEPARTURE:
        return "Early review after a departure from a construct check"
    late = (facts.today - facts.due_on).days
    if facts.tier == Tier.LATE:
        return f"{_days(late)} late; {_closing(closes)}"
    booked = "booked" if facts.is_booked else "not booked yet"
    if facts.tier == Tier.IN_WINDOW:
        return f"In window, due {_in(-late)}, {booked}"
    return f"Window opens later, due {_in(-late)}, {booked}"


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _closing(days: int) -> str:
    return f"the window {'closes' if days >= 0 else 'closed'} {_in(days)}"


def _in(days: int) -> str:
    if days == 0:
        return "today"
    return f"in {_days(days)}" if days > 0 else f"{_days(-days)} ago"
