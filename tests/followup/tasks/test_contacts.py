from datetime import UTC, datetime

import pytest
import time_machine

from followup.models import Unreachable
from followup.services import contacts
from followup.tasks.contacts import decide
from tests.followup.listed import due


@pytest.mark.usefixtures("defaults")
def test_the_task_decides_by_the_clock() -> None:
    review = due(phone="0555 010 1")
    for day in (1, 3, 5, 7, 9, 16):
        contacts.record_attempt(
            review=review,
            means="phone" if day < 9 else "letter",
            outcome="no_answer",
            note="",
            by=review.recorded_by,
            now=datetime(2026, 12, day, 9, tzinfo=UTC),
        )
    Unreachable.objects.all().delete()
    with time_machine.travel(datetime(2026, 12, 17, tzinfo=UTC), tick=False):
        assert decide()["outcome"] == "good"
    assert Unreachable.objects.get().since.isoformat() == "2026-12-17"
