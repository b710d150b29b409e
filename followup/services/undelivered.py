"""What a person does with a message that failed, or of which nobody knows whether it went."""

import uuid
from datetime import date, datetime
from typing import Any

from django.db.models import F

from followup.models.messages import PARKED, Message, MessageState, StepKind
from followup.models.tasks import Task, TaskKind
from followup.services import messages, tasks
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models.people import Person
from registry.services import records


def send_again(*, message: Message, expected_version: int, by: Person, now: datetime) -> None:
    """Put a parked message back into the outbox, knowingly: it may come twice.

    One of which nobody knows whether it went keeps its key, so that a carrier that knows the key
    takes it once; one that was refused gets a new key, as the old one may be refused unread.
    Raises IllegalTransition when it is not parked, StaleVersion when somebody was quicker.
    """
    fresh = {"uuid": uuid.uuid4()} if message.state == MessageState.FAILED else {}
    values = {
        **fresh,
        "state": MessageState.WAITING,
        "wanted_at": now,
        "round": F("round") + 1,
        "tries": 0,
        "claim": None,
        "claimed_at": None,
        "handed_at": None,
        "stopped_because": "",
    }
    _decide(message, values, StepKind.SENT_AGAIN, "", expected_version, by, now)


def mark_delivered(
    *, message: Message, reason: str, expected_version: int, by: Person, now: datetime
) -> None:
    """Note that a message arrived, and how one knows.

    Raises BadInput without a reason, IllegalTransition, StaleVersion.
    """
    _needs(reason, "Say how you know that it arrived, for example that the patient said so.")
    values = {
        "state": MessageState.SENT,
        "sent_at": message.handed_at or now,
        "stopped_because": "",
        "claim": None,
    }
    _decide(message, values, StepKind.MARKED_DELIVERED, reason, expected_version, by, now)


def give_up(
    *, message: Message, reason: str, expected_version: int, by: Person, now: datetime, today: date
) -> Task:
    """Give a message up, and open the task of reaching the patient in another way.

    Raises BadInput without a reason, IllegalTransition, StaleVersion.
    """
    _needs(reason, "Say why it is given up; whoever reaches the patient instead will read it.")
    values = {"state": MessageState.STOPPED, "stopped_because": reason.strip()[:200], "claim": None}
    with records.change(by=by, reason=reason):
        _decide(message, values, StepKind.GIVEN_UP, reason, expected_version, by, now)
        return tasks.open_task(
            site=message.site,
            patient=message.patient,
            review=message.review,
            kind=TaskKind.CONTACT,
            words=f"Reach the patient: {message.get_purpose_display().lower()}. {reason.strip()}",
            due_on=today,
            key=f"message:{message.pk}",
            by=by,
            now=now,
        )


def _needs(reason: str, words: str) -> None:
    if not reason.strip():
        raise BadInput({"reason": words})


def _decide(
    message: Message,
    values: dict[str, Any],
    kind: StepKind,
    reason: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> None:
    with records.change(by=by, reason=reason.strip() or kind.label):
        changed = Message.objects.filter(
            pk=message.pk, version=expected_version, state__in=PARKED
        ).update(**values, version=F("version") + 1)
        if not changed:
            _refuse(message, str(MessageState(values["state"]).label), expected_version)
        message.refresh_from_db()
        messages.note(messages=[message], kind=kind, now=now, detail=reason.strip(), by=by)


def _refuse(message: Message, wanted: str, expected_version: int) -> None:
    message.refresh_from_db()
    if message.state in PARKED:
        raise StaleVersion("The message", expected=expected_version, current=message.version)
    raise IllegalTransition(
        "The message", present=message.get_state_display().lower(), wanted=wanted.lower()
    )
