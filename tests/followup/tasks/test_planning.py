from datetime import UTC, datetime

import pytest
import time_machine

from followup.models import Review
from followup.tasks.planning import sweep
from tests import builders


@pytest.mark.usefixtures("defaults")
def test_the_task_sweeps_by_the_clock() -> None:
    builders.procedure()
    with time_machine.travel(datetime(2030, 1, 1, tzinfo=UTC), tick=False):
        sweep()
    assert {review.state for review in Review.objects.all()} == {"lapsed"}
