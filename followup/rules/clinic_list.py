"""Filling a clinic day: the free times in order to those whose window holds the day, most urgent first."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time

from followup.rules.windows import Window

BOOKABLE = ("planned", "missed")


@dataclass(frozen=True)
class Asked:
    """One review that was ticked; they come in order of urgency."""

    key: int
    window: Window
    state: str
    here: bool = True
    booked_on: date | None = None


@dataclass(frozen=True)
class Seat:
    """Who gets which time."""

    key: int
    at: time


@dataclass(frozen=True)
class Left:
    """Who gets none, and why."""

    key: int
    why: str


def fill(asked: Sequence[Asked], free: Sequence[time], day: date) -> tuple[list[Seat], list[Left]]:
    """Return who gets which of the free times of a day, and who is left and why."""
    times = iter(sorted(free))
    seats: list[Seat] = []
    left: list[Left] = []
    for one in asked:
        why = _unfit(one, day)
        at = None if why else next(times, None)
        if at is None:
            left.append(Left(one.key, why or "no slot of this clinic is left on this day"))
        else:
            seats.append(Seat(one.key, at))
    return seats, left


def _unfit(one: Asked, day: date) -> str:
    """Say why somebody cannot come on a day, or nothing."""
    if not one.here:
        return "is a patient of another site"
    if one.booked_on is not None:
        return f"is booked on {_day(one.booked_on)} already"
    if one.state not in BOOKABLE:
        return f"the review is {one.state.replace('_', ' ')} and takes no slot"
    if day < one.window.opens_on:
        return f"the window opens later, on {_day(one.window.opens_on)}"
    if day > one.window.closes_on:
        return f"the window closes before, on {_day(one.window.closes_on)}"
    return ""


def _day(day: date) -> str:
    return f"{day:%d %b %Y}"
