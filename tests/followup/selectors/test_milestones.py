"""Motion exams of a patient against the milestones of the schedules that the patient is on."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from followup.models import MotionExam
from followup.rules.milestones import Verdict
from followup.selectors.milestones import against_other_side, latest, of_injury
from followup.services import motion
from registry.models import Injury, Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

# After 5 June 2026 the window of 3 months is 15 August to 26 September.
DAY = date(2026, 9, 4)


def examined(operation: Procedure, on: date = DAY, side: str = "left", **found: Any) -> None:
    motion.record_motion(
        injury=operation.injury,
        values={"examined_on": on, "side": side, "mode": "active", **found},
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )


def told(injury: Injury) -> list[tuple[Verdict, int | None, int | None]]:
    found = latest(of_injury(injury, MotionExam.objects.filter(injury=injury)))
    return [(one.verdict, one.found_deg, one.other_deg) for one in found if one.found_deg]


def test_the_shipped_milestone_of_three_months_is_held_against_the_exam() -> None:
    operation = builders.procedure()
    examined(operation, flexion_deg=80)
    examined(operation, side="right", flexion_deg=165)
    assert told(operation.injury) == [(Verdict.BEHIND, 80, 165)]


def test_another_shoulder_that_was_injured_before_is_no_reference() -> None:
    hurt = builders.injury(other_shoulder="injured_before")
    operation = builders.procedure(hurt)
    examined(operation, flexion_deg=80)
    examined(operation, side="right", flexion_deg=90)
    assert told(hurt) == [(Verdict.BEHIND, 80, None)]


def test_the_last_exam_counts_and_those_before_are_kept_by_day() -> None:
    operation = builders.procedure()
    examined(operation, flexion_deg=80)
    examined(operation, on=date(2026, 9, 25), flexion_deg=130)
    exams = MotionExam.objects.filter(injury=operation.injury)
    found = of_injury(operation.injury, exams)
    assert [day.day for day in found] == [4, 25]
    assert told(operation.injury) == [(Verdict.REACHED, 130, None)]


def test_without_an_exam_there_is_nothing() -> None:
    operation = builders.procedure()
    assert latest(of_injury(operation.injury, [])) == ()


def test_it_costs_one_query_however_many_exams_there_are(counted: Callable[[], Any]) -> None:
    operation = builders.procedure()
    costs = []
    for days in (range(1, 3), range(3, 13)):
        for day in days:
            examined(operation, on=date(2026, 9, day), flexion_deg=80)
        exams = list(MotionExam.objects.filter(injury=operation.injury))
        with counted() as queries:
            of_injury(operation.injury, exams)
        costs.append(len(queries))
    assert costs == [1, 1]


def test_every_movement_stands_beside_the_other_side() -> None:
    operation = builders.procedure()
    examined(operation, flexion_deg=120, external_rotation_deg=50)
    examined(operation, side="right", flexion_deg=165, external_rotation_deg=60)
    exams = MotionExam.objects.filter(injury=operation.injury)
    found = latest(against_other_side(operation.injury, exams))
    assert [(one.movement, one.less_deg, one.is_behind) for one in found] == [
        ("flexion", 45, True),
        ("external_rotation", 10, False),
    ]
