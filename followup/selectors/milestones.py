"""Motion exams against the milestones of the schedules that a patient is on."""

from collections.abc import Iterable
from datetime import date
from typing import Any

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
from followup.rules.step_milestones import MOVEMENTS, milestones_of
from followup.rules.windows import Window
from registry.models.injuries import Injury, OtherShoulder


def of_injury(injury: Injury, exams: Iterable[MotionExam]) -> dict[date, tuple[Assessment, ...]]:
    """Return what each day's exams of an injury say of its milestones; one query."""
    reviews = Review.objects.filter(procedure__injury=injury).select_related("step", "procedure")
    return assessments(injury, exams, reviews)


def assessments(
    injury: Injury, exams: Iterable[MotionExam], reviews: Iterable[Any]
) -> dict[date, tuple[Assessment, ...]]:
    """Return the same from rows that were fetched already, reviews with their step and procedure."""
    schedules = _schedules(reviews)
    here: dict[date, list[Measured]] = {}
    beside = []
    for exam in exams:
        if exam.side == injury.side:
            here.setdefault(exam.examined_on, []).append(_measured(exam))
        else:
            beside.append(_measured(exam))
    other = OtherSide(injury.other_shoulder == OtherShoulder.UNINJURED, beside)
    return {day: assess(found, schedules, other) for day, found in sorted(here.items())}


def latest(found: dict[date, tuple[Assessment, ...]]) -> tuple[Assessment, ...]:
    """Return what the last exam says; nothing where there was none."""
    return found[max(found)] if found else ()


def _measured(exam: MotionExam) -> Measured:
    angles = {name: getattr(exam, f"{name}_deg") for name in MOVEMENTS}
    given = {name: value for name, value in angles.items() if value is not None}
    return Measured(exam.examined_on, exam.mode, given)


def _schedules(reviews: Iterable[Any]) -> list[Schedule]:
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
