from datetime import UTC, datetime, time, timedelta
from typing import Any

import pytest
import time_machine

from followup.models import Clinic, Message
from followup.services import reviews
from followup.tasks.messages import deliver
from tests import builders
from tests.builders import NOW, TODAY


def waiting_message() -> Message:
    """Book a slot, which puts a message about it into the outbox."""
    patient = builders.patient(email="ada@example.invalid")
    operation = builders.procedure(of=builders.injury(of=patient))
    review = operation.reviews.filter(due_on__gt=TODAY).earliest("due_on")
    on = review.due_on + timedelta(days=(3 - review.due_on.weekday()) % 7)
    clinic = Clinic.objects.create(
        site=review.site, name="Shoulder", weekday=3, starts_at=time(9), slots=8
    )
    reviews.book(
        review=review,
        clinic=clinic,
        on=on,
        at=time(9),
        expected_version=review.version,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    return Message.objects.get()


@pytest.mark.usefixtures("defaults")
def test_the_task_sends_a_waiting_message_once(mailoutbox: list[Any]) -> None:
    message = waiting_message()
    with time_machine.travel(datetime(2026, 11, 26, 10, 0, tzinfo=UTC), tick=False):
        deliver()
        deliver()
    message.refresh_from_db()
    assert message.state == "sent"
    assert [letter.to for letter in mailoutbox] == [["ada@example.invalid"]]
