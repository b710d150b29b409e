from datetime import UTC, date, datetime

import pytest
import time_machine

from followup.models import HardwareDecision, Task
from followup.services import hardware
from followup.tasks.hardware import prompt
from tests import builders


@pytest.mark.usefixtures("defaults")
def test_the_task_raises_a_planned_removal_once_its_time_has_come() -> None:
    operation = builders.procedure(
        performed_on=date(2026, 6, 5), construct={"construct_type": "HP"}
    )
    with time_machine.travel(datetime(2026, 6, 20, tzinfo=UTC), tick=False):
        prompt()
    assert not HardwareDecision.objects.exists()
    with time_machine.travel(datetime(2026, 12, 20, tzinfo=UTC), tick=False):
        prompt()
        prompt()
    assert HardwareDecision.objects.get().procedure == operation


@pytest.mark.usefixtures("defaults")
def test_the_night_brings_back_what_was_deferred_and_tells_of_what_waits() -> None:
    operation = builders.procedure(performed_on=date(2026, 6, 5))
    question = hardware.raise_question(
        procedure=operation,
        because="symptoms",
        by=operation.recorded_by,
        now=builders.NOW,
        on=date(2026, 9, 1),
    )
    assert question is not None
    hardware.decide(
        decision=question,
        state="deferred",
        values={"deferred_until": date(2026, 12, 1), "reason": "exams"},
        expected_version=1,
        by=operation.recorded_by,
        now=builders.NOW,
        today=builders.TODAY,
    )
    with time_machine.travel(datetime(2026, 12, 2, tzinfo=UTC), tick=False):
        prompt()
        prompt()
    question.refresh_from_db()
    assert (question.state, question.steps.count()) == ("raised", 3)
    assert not Task.objects.exists()
    # Twelve weeks after its day nobody has decided.
    with time_machine.travel(datetime(2027, 2, 23, 12, tzinfo=UTC), tick=False):
        prompt()
        prompt()
    assert Task.objects.filter(kind="other").count() == 1
