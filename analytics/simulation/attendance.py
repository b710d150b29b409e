"""Who comes, who does not, who is called and who is booked.

Attendance follows published facts loosely: 7.7 % of a trauma clinic's appointments are not kept
(Injury 2023); answers fall to about half at two years (ASMAR 2023;5:e137). It is kinder than the
trauma population of which 70 % missed a visit within six months (Zelle 2015).
"""

from dataclasses import dataclass
from datetime import date, timedelta

from analytics.simulation.draws import Draws
from analytics.simulation.records import SimAttempt, SimBooking, SimMissed

MISSED_SHARE = 0.077
LATE_SHARE = 0.06
LOST_SHARE = 0.18
BOOKED_SHARE, TODAY_SHARE = 0.6, 0.3
BOOK_AHEAD_DAYS = 28
# A clinic's list of one day; in a larger service fewer of those who could come are booked for it.
TODAY_AT_MOST = 12
NEVER = 10_000
MEANS = {"phone": 0.6, "text": 0.25, "letter": 0.15}
OUTCOMES = {
    "no_answer": 0.5,
    "message_left": 0.24,
    "reached": 0.16,
    "wrong_contact": 0.07,
    "declined": 0.03,
}


@dataclass(frozen=True)
class Step:
    """A timepoint in days, the ends of its window, the share that comes, and what belongs to it."""

    code: str
    due: int
    opens: int
    closes: int
    share: float
    film: bool = True
    motion: bool = True


# The days of the shipped protocols.
FIXATION_STEPS = (
    Step("baseline", 2, 0, 7, 0.97, motion=False),
    Step("2w", 14, 10, 21, 0.95, film=False, motion=False),
    Step("6w", 42, 28, 56, 0.92),
    Step("3m", 91, 70, 112, 0.89),
    Step("6m", 183, 153, 243, 0.82),
    Step("12m", 365, 305, 455, 0.72),
    Step("24m", 731, 641, 911, 0.56),
)
REMOVAL_STEPS = (
    Step("r2w", 14, 7, 21, 0.9, film=False, motion=False),
    Step("r3m", 91, 63, 119, 0.75),
)


@dataclass(frozen=True)
class Attendance:
    """The days on which a patient came, by step, and the steps that passed without."""

    came: tuple[tuple[Step, int], ...]
    absent: tuple[Step, ...]
    lost_from: int


def attended(rng: Draws, steps: tuple[Step, ...], limit: int, taken: frozenset[int]) -> Attendance:
    """Draw who comes when; nobody comes after `limit` nor on a day that is `taken`.

    A few come after their window, some are lost from a day on. Days are counted from the operation
    that started the schedule.
    """
    lost_from = rng.integers(60, 1000) if rng.chance(LOST_SHARE) else NEVER
    came: list[tuple[Step, int]] = []
    absent = []
    for step in steps:
        day = _day(rng, step)
        free = max(day, came[-1][1] + 1) if came else day
        while free in taken:
            free += 1
        comes = rng.chance(step.share) and free < lost_from
        if comes and free <= limit:
            came.append((step, free))
        elif step.opens <= limit and not (comes and step.closes > limit):
            absent.append(step)
    return Attendance(tuple(came), tuple(absent), lost_from)


def _day(rng: Draws, step: Step) -> int:
    if step.opens and rng.chance(LATE_SHARE):
        return step.closes + rng.integers(1, 15)
    spread = max(2.0, (step.closes - step.due) / 3)
    return int(rng.bounded(step.due, spread, step.opens, step.closes))
