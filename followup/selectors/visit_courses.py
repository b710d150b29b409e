"""Motion and scores of one injury as small courses, from rows that were fetched already."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from followup.models.motion import InternalRotation, MotionExam
from followup.models.scores import Score
from followup.rules.motion_courses import MotionCourse, motion_courses
from followup.rules.score_courses import ScoreCourse, Scored, score_course
from followup.rules.scores.catalogue import Instrument
from followup.selectors import milestones
from registry.models.injuries import Injury, YesNo


def motion_of(
    injury: Injury,
    exams: Iterable[MotionExam],
    reviews: Iterable[Any],
    *,
    operated_on: date,
    today: date,
) -> tuple[MotionCourse, ...]:
    """Return the courses of the injured side's movements; no query.

    Reviews come with their step and procedure.
    """
    here, other = milestones.sides(injury, exams)
    return motion_courses(
        [exam for day in sorted(here) for exam in here[day]],
        other,
        milestones.schedules(reviews),
        operated_on=operated_on,
        today=today,
    )


def rotation_of(injury: Injury, exams: Sequence[MotionExam]) -> str:
    """Say how far the thumb reached, last and before; it is a landmark and no angle."""
    reached = [one for one in exams if one.internal_rotation and one.mode == "active"]
    here = [one for one in reached if one.side == injury.side]
    there = [one for one in reached if one.side != injury.side]
    if not here:
        return ""
    told = [f"{_landmark(here[-1])} on {here[-1].examined_on:%d %b %Y}"]
    told += [f"before {_landmark(here[-2])}"] if len(here) > 1 else []
    told += [f"other side {_landmark(there[-1])}"] if there else []
    return f"Internal rotation, thumb reaches: {', '.join(told)}."


def _landmark(exam: MotionExam) -> str:
    return str(InternalRotation(exam.internal_rotation).label)


def scores_of(
    found: Iterable[tuple[Instrument, Sequence[Score]]], *, operated_on: date, today: date
) -> tuple[ScoreCourse, ...]:
    """Return the course of each instrument that has been answered; no query."""
    return tuple(
        score_course(
            instrument,
            [
                Scored(row.taken_on, float(row.value), row.hardware_in_place == YesNo.NO)
                for row in rows
                if row.value is not None
            ],
            operated_on=operated_on,
            today=today,
        )
        for instrument, rows in found
    )
