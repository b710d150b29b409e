"""Motion exams against the milestones of a patient's schedules, and beside the other side."""

from collections.abc import Iterable
from datetime import date
from typing import Any, TypeVar

from followup.models.motion import MotionExam
from followup.models.reviews import Review
from followup.rules.milestones import (
    Assessment,
    Measured,
    OtherSide,
    Schedule,
    StepMilestones,
    assess,
)
from followup.rules.other_side import SideDifference, beside
from followup.rules.step_milestones import MOVEMENTS, milestones_of
from followup.rules.windows import Window
from registry.models.injuries import Injury, OtherShoulder

Told = TypeVar("Told", Assessment, SideDifference)


def of_injury(injury: Injury, exams: Iterable[MotionExam]) -> dict[date, tuple[Assessment, ...]]:
    """Return what each day's exams of an injury say of its milestones; one query."""
    return assessments(injury, exams, reviews_of(injury))


def reviews_of(injury: Injury) -> list[Any]:
    """Return an injury's reviews with their step and operation; one query."""
    rows = Review.objects.filter(procedure__injury=injury)
    return list(rows.select_related("step", "procedure"))


def assessments(
    injury: Injury, exams: Iterable[MotionExam], reviews: Iterable[Any]
) -> dict[date, tuple[Assessment, ...]]:
    """Return the same from rows that were fetched already, reviews with their step and procedure."""
    planned = schedules(reviews)
    here, other = sides(injury, exams)
    return {day: assess(found, planned, other) for day, found in sorted(here.items())}


def against_other_side(
    injury: Injury, exams: Iterable[MotionExam]
) -> dict[date, tuple[SideDifference, ...]]:
    """Return how each day's exams of the injured side stand beside the other one; no query."""
    here, other = sides(injury, exams)
    return {day: beside(found, other) for day, found in sorted(here.items())}


def latest(found: dict[date, tuple[Told, ...]]) -> tuple[Told, ...]:
    """Return what the last exam says; nothing where there was none."""
    return found[max(found)] if found else ()


def sides(
    injury: Injury, exams: Iterable[MotionExam]
) -> tuple[dict[date, list[Measured]], OtherSide]:
    """Return the injured side's exams by day, and the other side."""
    here: dict[date, list[Measured]] = {}
    there = []
    for exam in exams:
        if exam.side == injury.side:
            here.setdefault(exam.examined_on, []).append(_measured(exam))
        else:
            there.append(_measured(exam))
    return here, OtherSide(injury.other_shoulder == OtherShoulder.UNINJURED, there)


def _measured(exam: MotionExam) -> Measured:
    angles = {name: getattr(exam, f"{name}_deg") for name in MOVEMENTS}
    given = {name: value for name, value in angles.items() if value is not None}
    return Measured(exam.examined_on, exam.mode, given)


def schedules(reviews: Iterable[Any]) -> list[Schedule]:
    """Return the steps that follow each operation; no query."""
    by_operation: dict[tuple[date, int], list[StepMilestones]] = {}
    for review in reviews:
        step = StepMilestones(
            review.step.name,
            Window(review.opens_on, review.due_on, review.closes_on),
            milestones_of(review.step.milestones),
        )
        key = (review.procedure.performed_on, review.procedure_id)
        by_operation.setdefault(key, []).append(step)
    return [Schedule(day, tuple(steps)) for (day, _), steps in sorted(by_operation.items())]
