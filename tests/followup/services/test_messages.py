"""The outbox: what is put in, once, and what is stopped before it goes."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from followup.models import Message, MessageStep
from followup.services import messages
from tests.builders import NOW
from tests.outbox import after, died, put, reminder, steps, waiting

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_same_announcement_is_put_in_once() -> None:
    message = waiting()
    again = messages.announce(
        appointment=message.appointment, purpose=message.purpose, now=NOW + timedelta(hours=1)
    )
    assert again == message
    assert Message.objects.count() == 1


def test_one_reason_puts_one_message_into_the_outbox(mailoutbox: list[Any]) -> None:
    first = reminder(key="reminder:1")
    assert put(first.review, key="reminder:1") == first
    message = after(Message.objects.get())
    assert (message.state, len(mailoutbox)) == ("sent", 1)


def test_death_stops_every_message_at_once_and_starts_none(mailoutbox: list[Any]) -> None:
    sent, waits = after(waiting()), waiting()
    died(sent)
    died(waits)
    assert list(Message.objects.order_by("id").values_list("state", flat=True)) == [
        "sent",
        "stopped",
    ]
    after(waits)
    assert len(mailoutbox) == 1


@pytest.mark.parametrize("state", ["failed", "unknown"])
def test_after_a_death_nobody_has_to_look_at_what_did_not_go(state: str) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(state=state)
    died(message)
    message.refresh_from_db()
    assert (message.state, message.stopped_because) == ("stopped", "died")


def test_what_a_worker_is_sending_is_not_called_stopped() -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(state="sending")
    assert messages.stop_for_patient(patient_id=message.patient_id, because="died") == 0


def test_nobody_is_told_of_the_end_of_a_slot_whose_day_is_over() -> None:
    message = after(waiting())
    messages.call_off(appointment=message.appointment, now=datetime(2026, 12, 2, 9, 0, tzinfo=UTC))
    assert Message.objects.count() == 1


def test_nobody_is_told_of_the_end_of_a_slot_of_which_nobody_was_told() -> None:
    message = waiting()
    messages.call_off(appointment=message.appointment, now=NOW)
    assert list(Message.objects.values_list("state", flat=True)) == ["stopped"]


@pytest.mark.parametrize("state", ["sending", "unknown"])
def test_who_may_have_been_told_of_a_slot_is_told_of_its_end(state: str) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(state=state, handed_at=NOW)
    messages.call_off(appointment=message.appointment, now=NOW)
    assert Message.objects.filter(purpose="appointment_cancelled", state="waiting").exists()


def test_a_step_says_which_try_it_is_and_never_where_it_went() -> None:
    message = after(waiting())
    assert steps(message) == ["claimed", "handing_over", "accepted"]
    last = MessageStep.objects.latest("id")
    assert (last.round, last.number, last.means, last.carrier) == (1, 1, "email", "mail")
    written = " ".join(
        f"{step.detail} {step.reference}" for step in MessageStep.objects.filter(message=message)
    )
    assert "ada@" not in written
