"""Motion of the injured side over time: now, before, beside the other side and what its week asks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from followup.rules.milestones import Measured, OtherSide, Schedule, StepMilestones, step_at
from followup.rules.small_chart import Point, SmallChart, Span, small_chart
from followup.rules.step_milestones import MOVEMENTS, Milestone

# Whole degrees; what lies outside is drawn at the edge and said in words.
AXES = {"flexion": (0, 180), "abduction": (0, 180), "external_rotation": (-30, 90)}
UNITS = "degrees"


@dataclass(frozen=True)
class MotionCourse:
    """One movement: its chart, and the same in words with all numbers that count now."""

    movement: str
    name: str
    chart: SmallChart | None
    words: str
    milestone: str


def motion_courses(
    exams: Sequence[Measured],
    other: OtherSide,
    schedules: Sequence[Schedule],
    *,
    operated_on: date,
    today: date,
) -> tuple[MotionCourse, ...]:
    """Return the courses of all movements from the exams of the injured side.

    Active motion is what the line joins; passive motion stands beside it as hollow dots.
    """
    step = step_at(today, schedules)
    ordered = sorted(exams, key=lambda exam: exam.on)
    return tuple(
        _course(movement, ordered, other, schedules, step, operated_on, today)
        for movement in MOVEMENTS
    )


def _course(
    movement: str,
    exams: Sequence[Measured],
    other: OtherSide,
    schedules: Sequence[Schedule],
    step: StepMilestones | None,
    operated_on: date,
    today: date,
) -> MotionCourse:
    found = [exam for exam in exams if movement in exam.degrees]
    points = [
        Point(exam.on, exam.degrees[movement], is_other=exam.mode != "active") for exam in found
    ]
    beside = other.angle(movement, "active", today)
    low, high = AXES[movement]
    chart = small_chart(
        points,
        low=low,
        high=high,
        starts_on=min([operated_on, *(point.on for point in points)]),
        ends_on=today,
        spans=[span for one in schedules for span in _spans(one, movement)],
        level=None if beside is None else beside[0],
    )
    asked = _asked(movement, step)
    name = MOVEMENTS[movement].capitalize()
    said = [_active(found, movement, today), *_passive(found, movement)]
    said.append(
        other.why_none if beside is None else f"other side {beside[0]} ({beside[1]:%d %b %Y})"
    )
    if asked:
        said.append(asked)
    return MotionCourse(movement, name, chart, f"{name}, {UNITS}: {'; '.join(said)}.", asked)


def _active(found: Sequence[Measured], movement: str, today: date) -> str:
    active = [exam for exam in found if exam.mode == "active"]
    if not active:
        return "active motion not measured yet"
    told = [f"{exam.degrees[movement]} on {exam.on:%d %b %Y}" for exam in active[-3:]]
    newest = active[-1]
    now = "today" if newest.on == today else "last"
    if len(active) == 1:
        return f"active {now} {told[0]}"
    gained = newest.degrees[movement] - active[-2].degrees[movement]
    return f"active {now} {told[-1]}, before {', '.join(reversed(told[:-1]))} ({gained:+d})"


def _passive(found: Sequence[Measured], movement: str) -> list[str]:
    passive = [exam for exam in found if exam.mode != "active"]
    if not passive:
        return []
    return [f"passive last {passive[-1].degrees[movement]} on {passive[-1].on:%d %b %Y}"]


def _spans(schedule: Schedule, movement: str) -> list[Span]:
    return [
        Span(step.window.opens_on, step.window.closes_on, value, is_limit)
        for step in schedule.steps
        for one in step.milestones
        if one.movement == movement
        for value, is_limit in ((one.at_least_deg, False), (one.at_most_deg, True))
        if value is not None
    ]


def _asked(movement: str, step: StepMilestones | None) -> str:
    """Say what the present week asks for or allows."""
    if step is None:
        return ""
    told = [_bounds(one) for one in step.milestones if one.movement == movement and _bounds(one)]
    return f"{step.name} asks for {' and '.join(told)}" if told else ""


def _bounds(milestone: Milestone) -> str:
    low, high = milestone.at_least_deg, milestone.at_most_deg
    told = [f"at least {low}"] if low is not None else []
    told += [f"at most {high}"] if high is not None else []
    return f"{milestone.mode} {' and '.join(told)}" if told else ""
