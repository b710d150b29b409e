"""What one visit finds: the film, motion of both sides, and scores on their way back to normal."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp

from analytics.simulation.attendance import Step
from analytics.simulation.draws import Draws
from analytics.simulation.films import Shoulder, film
from analytics.simulation.records import SimMotion, SimVisit

OTHER = {"left": "right", "right": "left"}
# Normal motion: J Shoulder Elbow Surg 2005;14:128; spreads are invented.
FLEXION_DEG, ABDUCTION_DEG = (162.0, 9.0), (166.0, 9.0)
ROTATION_DEG = {"male": 63.0, "female": 66.0}
LEVELS = ("thigh", "buttock", "ls", "l3", "t12", "t7")
FILMED_SHARE, EXAMINED_SHARE, OTHER_EXAMINED_SHARE, PASSIVE_SHARE = 0.95, 0.95, 0.85, 0.3
MENDS_DAYS = 70
# Share of the visits of a step on which an instrument was completed.
COMPLETED: Mapping[str, Mapping[str, float]] = {
    "2w": {"pain_nrs": 0.95},
    "6w": {"pain_nrs": 0.95, "quickdash": 0.85},
    "3m": {"pain_nrs": 0.95, "quickdash": 0.85},
    "6m": {"pain_nrs": 0.95, "quickdash": 0.8, "sane": 0.7},
    "12m": {"pain_nrs": 0.95, "quickdash": 0.8, "constant": 0.75, "sane": 0.4},
    "24m": {"pain_nrs": 0.9, "quickdash": 0.75, "constant": 0.4},
    "r2w": {"pain_nrs": 0.95},
    "r3m": {"pain_nrs": 0.95, "quickdash": 0.8},
}
POINTS_LOST_TO_LOSS = 12.0


@dataclass(frozen=True)
class Course:
    """What all visits of one shoulder share; days count from the operation of its films."""

    operated: date
    side: str
    sex: str
    shoulder: Shoulder
    hardware_out_day: int | None

    def on(self, day: int) -> date:
        """Return the date of a day counted from the operation."""
        return self.operated + timedelta(days=day)

    def has_hardware(self, day: int) -> bool:
        """Say whether the implant is in on a day."""
        return self.hardware_out_day is None or day <= self.hardware_out_day


def visit(rng: Draws, course: Course, step: Step, on: date) -> SimVisit:
    """Return what a visit of a day found; its step says what belonged to it."""
    day = (on - course.operated).days
    in_place = course.has_hardware(day)
    lost = course.shoulder.is_lost(day)
    filmed = step.film and rng.chance(FILMED_SHARE)
    return SimVisit(
        step=step.code,
        on=on,
        film=film(rng, course.shoulder, on, day, hardware_in_place=in_place) if filmed else None,
        motion=_motion(rng, course, day, lost) if step.motion else (),
        scores=_scores(rng, step.code, day, lost),
        hardware_in_place=in_place,
    )


def unplanned_film(rng: Draws, course: Course, on: date) -> SimVisit:
    """Return a visit that nobody had planned, made for a film."""
    day = (on - course.operated).days
    in_place = course.has_hardware(day)
    taken = film(rng, course.shoulder, on, day, hardware_in_place=in_place)
    return SimVisit("", on, taken, (), {}, in_place)


def _mended(day: int) -> float:
    return 1 - exp(-day / MENDS_DAYS)


def _motion(rng: Draws, course: Course, day: int, lost: bool) -> tuple[SimMotion, ...]:
    if not rng.chance(EXAMINED_SHARE):
        return ()
    share = 0.45 + 0.55 * _mended(day)
    less = POINTS_LOST_TO_LOSS if lost else 0.0
    found = [_exam(rng, course, course.side, "active", share, less)]
    if day < 70 and rng.chance(PASSIVE_SHARE):
        found.append(_exam(rng, course, course.side, "passive", min(1.0, share + 0.12), less))
    if rng.chance(OTHER_EXAMINED_SHARE):
        found.append(_exam(rng, course, OTHER[course.side], "active", 1.0, 0.0))
    return tuple(found)


def _exam(rng: Draws, course: Course, side: str, mode: str, share: float, less: float) -> SimMotion:
    rotation = ROTATION_DEG.get(course.sex, 64.0)
    level = int(rng.bounded(5.4 * share, 0.6, 0, 5))
    return SimMotion(
        side=side,
        mode=mode,
        flexion_deg=_degrees(rng, FLEXION_DEG, share, less, 180),
        abduction_deg=_degrees(rng, ABDUCTION_DEG, share, less, 180),
        external_rotation_deg=_degrees(rng, (rotation, 8.0), share, less / 2, 95),
        internal_rotation=LEVELS[level],
    )


def _degrees(rng: Draws, normal: tuple[float, float], share: float, less: float, most: int) -> int:
    mean, sd = normal
    return round(rng.bounded(mean * share - less, sd, 10, most))


def _scores(rng: Draws, step: str, day: int, lost: bool) -> dict[str, float]:
    less = POINTS_LOST_TO_LOSS if lost else 0.0
    mended = _mended(day)
    found = {}
    for name, share in COMPLETED.get(step, {}).items():
        if rng.chance(share):
            found[name] = _score(rng, name, mended, less)
    return found


def _score(rng: Draws, name: str, mended: float, less: float) -> float:
    if name == "pain_nrs":
        return float(round(rng.bounded(5.5 * (1 - mended) + 0.4 + less / 6, 1.1, 0, 10)))
    if name == "quickdash":
        # With all eleven items answered the total moves in steps of 100/44.
        steps = round(rng.bounded(62 * (1 - mended) + 6 + less, 8, 0, 100) * 0.44)
        return round(steps / 0.44, 2)
    best, sd = (89.0, 7.0) if name == "constant" else (90.0, 9.0)
    return float(round(rng.bounded(best - 45 * (1 - mended) - less, sd, 10, 100)))
