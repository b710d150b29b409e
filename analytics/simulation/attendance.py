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
# A site of more operations a year books a smaller share for today: clinics do not grow with it.
SMALL_SITE_A_YEAR = 30
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


def missed(rng: Draws, attendance: Attendance, operated: date, limit: int) -> tuple[SimMissed, ...]:
    """Return the appointments that were not kept, so that of all steps that share was missed."""
    found = []
    for step in attendance.absent:
        day = int(rng.bounded(step.due, 4, step.opens, step.closes))
        was_booked = rng.chance(min(1.0, MISSED_SHARE / (1 - step.share)))
        if was_booked and day <= min(limit, attendance.lost_from):
            found.append(SimMissed(step.code, operated + timedelta(days=day)))
    return tuple(found)


def attempts(
    rng: Draws, attendance: Attendance, operated: date, limit: int, *, has_phone: bool
) -> tuple[SimAttempt, ...]:
    """Return the tries at reaching a patient who did not come, until somebody answers."""
    found = []
    for step in attendance.absent:
        for number in range(rng.integers(0, 4)):
            day = step.due + 5 + 9 * number
            means = rng.pick(MEANS) if has_phone else "letter"
            outcome = "message_left" if means != "phone" else rng.pick(OUTCOMES)
            if day > limit:
                break
            found.append(SimAttempt(step.code, operated + timedelta(days=day), means, outcome))
            if outcome in ("reached", "declined"):
                break
    return tuple(found)


def bookings(
    rng: Draws,
    steps: tuple[Step, ...],
    attendance: Attendance,
    operated: date,
    until: date,
    *,
    weekdays: tuple[int, ...],
    a_year: float,
) -> tuple[SimBooking, ...]:
    """Return the appointment for the first step that is open or soon opens, if one is booked.

    `weekdays` are the site's clinic days and `a_year` its operations a year; some come today.
    """
    elapsed = (until - operated).days
    if attendance.lost_from <= elapsed:
        return ()
    seen = {step.code for step, _ in attendance.came}
    for step in steps:
        if step.code in seen or step.closes <= elapsed or step.opens > elapsed + BOOK_AHEAD_DAYS:
            continue
        if not rng.chance(BOOKED_SHARE):
            return ()
        day = _booked_day(rng, step, elapsed, operated, weekdays, a_year)
        return () if day is None else (SimBooking(step.code, day),)
    return ()


def _booked_day(
    rng: Draws,
    step: Step,
    elapsed: int,
    operated: date,
    weekdays: tuple[int, ...],
    a_year: float,
) -> date | None:
    today = operated + timedelta(days=elapsed)
    share = TODAY_SHARE * min(1.0, SMALL_SITE_A_YEAR / a_year)
    if step.opens <= elapsed and today.weekday() in weekdays and rng.chance(share):
        return today
    first = max(elapsed + 1, step.opens)
    last = min(elapsed + BOOK_AHEAD_DAYS, step.closes)
    days = [operated + timedelta(days=day) for day in range(first, last + 1)]
    held = [day for day in days if day.weekday() in weekdays]
    return rng.choice(held) if held else None
