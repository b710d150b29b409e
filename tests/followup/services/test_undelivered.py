"""What a person does with a parked message: each once, by one person, and written down."""

from typing import Any

import pytest

from followup.models import Message, Task
from followup.services import undelivered
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import Person
from registry.models.audit import AuditEntry
from tests.builders import NOW, TODAY
from tests.outbox import after, steps, waiting

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def by(coordinator: Person) -> Person:
    return coordinator


def parked(state: str) -> Message:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(
        state=state, tries=3, handed_at=NOW, means="email", stopped_because="nobody answers"
    )
    message.refresh_from_db()
    return message


def again(message: Message, by: Person, version: int | None = None) -> None:
    undelivered.send_again(
        message=message, expected_version=version or message.version, by=by, now=NOW
    )


def test_a_failed_message_goes_again_under_a_new_key(by: Person, mailoutbox: list[Any]) -> None:
    message = parked("failed")
    before = message.uuid
    again(message, by)
    assert (message.state, message.round, message.tries) == ("waiting", 2, 0)
    assert message.uuid != before
    assert after(message).state == "sent"
    assert steps(message) == ["sent_again", "claimed", "handing_over", "accepted"]
    assert message.steps.get(kind="sent_again").by == by
    assert len(mailoutbox) == 1


def test_one_that_may_have_gone_keeps_its_key_so_that_a_carrier_can_tell(by: Person) -> None:
    message = parked("unknown")
    before = message.uuid
    again(message, by)
    assert (message.state, message.uuid) == ("waiting", before)


def test_of_two_people_one_decides(by: Person) -> None:
    message = parked("unknown")
    seen = message.version
    again(message, by)
    other = Message.objects.get(pk=message.pk)
    with pytest.raises(IllegalTransition, match="is 'waiting' and cannot become 'sent'"):
        undelivered.mark_delivered(
            message=other, reason="she rang", expected_version=seen, by=by, now=NOW
        )
    assert Message.objects.get().state == "waiting"


def test_who_saw_an_older_version_is_asked_to_look_again(by: Person) -> None:
    message = parked("failed")
    with pytest.raises(StaleVersion, match="you have version 7"):
        again(message, by, version=7)
    assert Message.objects.get().state == "failed"


@pytest.mark.parametrize("state", ["waiting", "sending", "sent", "stopped"])
def test_what_is_not_parked_cannot_be_sent_again(state: str, by: Person) -> None:
    message = waiting()
    Message.objects.filter(pk=message.pk).update(state=state, sent_at=NOW)
    message.refresh_from_db()
    with pytest.raises(IllegalTransition):
        again(message, by)


def test_one_that_arrived_is_marked_with_how_one_knows(by: Person) -> None:
    message = parked("unknown")
    undelivered.mark_delivered(
        message=message, reason="she rang", expected_version=message.version, by=by, now=NOW
    )
    assert (message.state, message.sent_at) == ("sent", NOW)
    assert message.steps.get().detail == "she rang"


def test_giving_up_opens_the_task_of_reaching_the_patient(by: Person) -> None:
    message = parked("failed")
    task = undelivered.give_up(
        message=message,
        reason="the number is dead",
        expected_version=message.version,
        by=by,
        now=NOW,
        today=TODAY,
    )
    assert (message.state, message.stopped_because) == ("stopped", "the number is dead")
    assert (task.kind, task.patient, task.review) == ("contact", message.patient, message.review)
    assert task.words == "Reach the patient: appointment booked. the number is dead"
    trail = AuditEntry.objects.filter(table="followup_message").latest("id")
    assert (trail.person_id, trail.reason) == (by.pk, "the number is dead")


def test_without_a_reason_nothing_happens(by: Person) -> None:
    message = parked("failed")
    at = {"message": message, "reason": " ", "expected_version": message.version, "by": by}
    with pytest.raises(BadInput, match="how you know"):
        undelivered.mark_delivered(**at, now=NOW)
    with pytest.raises(BadInput, match="why it is given up"):
        undelivered.give_up(**at, now=NOW, today=TODAY)
    assert (Message.objects.get().state, Task.objects.count()) == ("failed", 0)


def test_a_give_up_that_comes_too_late_opens_no_task(by: Person) -> None:
    message = parked("failed")
    with pytest.raises(StaleVersion):
        undelivered.give_up(
            message=message, reason="dead", expected_version=9, by=by, now=NOW, today=TODAY
        )
    assert Task.objects.count() == 0
