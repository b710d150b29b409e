"""The operations that follow an index procedure, with the visits of their own schedules."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from analytics.simulation import attendance, films, operations, visits
from analytics.simulation.attendance import FIXATION_STEPS, REMOVAL_STEPS, Step
from analytics.simulation.draws import Draws
from analytics.simulation.records import SimCase, SimLater, SimVisit
from analytics.simulation.span import Span
from analytics.simulation.truth import TRUTH
from analytics.simulation.visits import Course

WASHED_OUT_AFTER_DAYS = 1


def removal(rng: Draws, case: SimCase, course: Course, span: Span, day: int) -> SimLater:
    """Return the removal of the implant on a day counted from the index procedure.

    Its visits fall on other days than those of the index procedure, which go on.
    """
    on = course.on(day)
    taken = frozenset((visit.on - on).days for visit in case.visits)
    return SimLater(
        "implant_removal",
        operations.small_operation(rng, on),
        planned=TRUTH[case.construct_type].planned_removal > 0,
        visits=_visits(rng, course, REMOVAL_STEPS, on, span.stops - day, taken),
    )


def revision(rng: Draws, case: SimCase, course: Course, span: Span, day: int) -> SimLater:
    """Return the revision on a day counted from the index procedure; it holds from then on."""
    on = course.on(day)
    code = operations.REVISED_TO[case.construct_type]
    operated = operations.operation(rng, on, code)
    shoulder = films.shoulder(
        rng,
        union_share=TRUTH[code].union,
        is_fracture=course.shoulder.is_fracture,
        reduction_quality=operated["reduction_quality"],
        other_mm=course.shoulder.other_mm,
    )
    again = replace(course, operated=on, shoulder=shoulder, hardware_out_day=None)
    last = min(span.elapsed, span.ended) - 1 - day
    return SimLater(
        "revision_fixation",
        operated,
        construct=operations.construct(rng, code, case.site, operated),
        visits=_visits(rng, again, FIXATION_STEPS, on, last, frozenset()),
    )


def washouts(rng: Draws, events: Sequence[dict[str, Any]], last: date) -> list[SimLater]:
    """Return a washout for each deep infection, the day after it was found, up to a last day."""
    days: list[date] = [
        event["detected_on"] + timedelta(days=WASHED_OUT_AFTER_DAYS)
        for event in events
        if event["kind"] == "infection_deep"
    ]
    return [
        SimLater("washout", operations.small_operation(rng, day)) for day in days if day <= last
    ]


def _visits(
    rng: Draws,
    course: Course,
    steps: tuple[Step, ...],
    start: date,
    limit: int,
    taken: frozenset[int],
) -> tuple[SimVisit, ...]:
    came = attendance.attended(rng, steps, limit, taken)
    return tuple(
        visits.visit(rng, course, step, start + timedelta(days=day)) for step, day in came.came
    )
