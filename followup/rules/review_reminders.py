"""May a patient be reminded of a review, and by which means; with the reason where not."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from followup.rules.contact import Reach
from followup.rules.windows import Window

WORDS = {"text": "text message", "email": "e-mail", "letter": "letter"}
REMINDED = ("planned", "missed")


@dataclass(frozen=True)
class Facts:
    """What decides about one reminder; `offered` are the means that the site sends by, in order."""

    state: str
    window: Window
    reach: Reach
    offered: Sequence[str]
    booked_on: date | None = None
    last_on: date | None = None


@dataclass(frozen=True)
class Reminder:
    """By which means a reminder would go; or, without one, why none goes."""

    means: str
    why_not: str = ""


def reminder_for(facts: Facts, reminder_days: int, today: date) -> Reminder:
    """Decide about one reminder, never of what is booked or done, nor within some days of the last."""
    reach = facts.reach
    refusals = (
        (facts.booked_on is not None, f"is booked on {_day(facts.booked_on)}"),
        (facts.state not in REMINDED, f"the review is {facts.state.replace('_', ' ')}"),
        (today < facts.window.opens_on, f"the window opens on {_day(facts.window.opens_on)}"),
        (today > facts.window.closes_on, f"the window closed on {_day(facts.window.closes_on)}"),
        (reach.opted_out, "does not want to be contacted"),
        (
            reach.declined_on is not None,
            f"said on {_day(reach.declined_on)} that they do not want to come",
        ),
    )
    why_not = next((words for holds, words in refusals if holds), "")
    why_not = why_not or _too_soon(facts.last_on, reminder_days, today)
    if why_not:
        return Reminder("", why_not)
    order = sorted(facts.offered, key=lambda means: means != reach.preferred)
    open_to = [means for means in order if means in reach.available - reach.refused]
    if open_to:
        return Reminder(open_to[0])
    return Reminder("", _closed(facts))


def _too_soon(last_on: date | None, reminder_days: int, today: date) -> str:
    if last_on is None or today >= last_on + timedelta(days=reminder_days):
        return ""
    if last_on > today:
        return f"has a reminder waiting, which goes on {_day(last_on)}"
    return f"was reminded on {_day(last_on)}, less than {reminder_days} days ago"


def _closed(facts: Facts) -> str:
    if not facts.offered:
        return "this site sends no messages"
    return "; ".join(
        f"has refused {WORDS[means]}"
        if means in facts.reach.refused
        else f"has no address for {WORDS[means]}"
        for means in facts.offered
    )


def _day(day: date | None) -> str:
    return f"{day:%d %b %Y}" if day is not None else ""
