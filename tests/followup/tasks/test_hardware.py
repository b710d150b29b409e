from datetime import UTC, date, datetime

import pytest
import time_machine

from followup.models import HardwareDecision
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
