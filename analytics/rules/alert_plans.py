"""What a surgeon can plan about a reduction that may be lost, in words, and whom each asks to act."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from registry.errors import BadInput, IllegalTransition


@dataclass(frozen=True)
class Plan:
    """One plan: its name, what its day means, the day that is offered, and the task that it opens."""

    name: str
    by_when: str
    days_ahead: int
    task: str


# The days that are offered are common practice, no source; the surgeon sets the day.
PLANS: Mapping[str, Plan] = {
    "observe": Plan("Observe", "another film by", 28, "Another film: a reduction may be lost"),
    "imaging": Plan("Further imaging", "images by", 7, "Arrange further imaging of a reduction"),
    "discuss": Plan("Discuss", "at the meeting by", 28, "Discuss at the meeting: a reduction"),
    "revise": Plan("Revise", "in theatre by", 14, "Find a date in theatre: revision wished"),
}
TAKEN_BACK = "taken_back"


def choices() -> list[tuple[str, str]]:
    """Return the plans as a form offers them, each with what its day means."""
    return [(code, f"{one.name}: {one.by_when} the day below") for code, one in PLANS.items()]


def day_of(state: str, plan: str, due_on: date | None, today: date) -> date:
    """Return the day of a plan that can be taken.

    Raises IllegalTransition for an alert that was taken back, BadInput for a plan that there is not,
    without a day, or for a day that is over.
    """
    if state == TAKEN_BACK:
        raise IllegalTransition("The alert", present="no longer so", wanted="planned")
    faults = {}
    if plan not in PLANS:
        faults["plan"] = "Choose what is to happen."
    if due_on is None:
        faults["due_on"] = "Say by which day."
    elif due_on < today:
        faults["due_on"] = "This day is over; choose today or a later one."
    if faults or due_on is None:
        raise BadInput(faults)
    return due_on


def task_words(plan: str, note: str) -> str:
    """Return what the task of a plan asks for, with what the surgeon added."""
    return f"{PLANS[plan].task}. {note.strip()}".strip()


def said(plan: str, due_on: date, note: str) -> str:
    """Write a plan as the history of an alert keeps it."""
    words = f"{PLANS[plan].name}, {PLANS[plan].by_when} {due_on:%d %b %Y}."
    return f"{words} {note.strip()}".strip()
