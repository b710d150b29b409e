from datetime import UTC, date, datetime

import pytest
import time_machine

from followup.models import ReviewSum
from followup.tasks.sums import count
from tests import builders


@pytest.mark.usefixtures("defaults")
def test_the_task_counts_for_its_day() -> None:
    builders.procedure()
    with time_machine.travel(datetime(2026, 11, 26, 2, tzinfo=UTC), tick=False):
        assert count()["outcome"] == "good"
    row = ReviewSum.objects.get()
    assert (row.on, row.planned) == (date(2026, 11, 26), 7)
