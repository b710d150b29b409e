"""The outbox: a message is a row in the transaction of its reason; a worker sends it once.

What goes, and when, is in services/delivery.py.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import F, QuerySet

from followup.models.messages import (
    PARKED,
    Message,
    MessagePurpose,
    MessageState,
    MessageStep,
    StepKind,
)
from followup.models.questionnaires import Invitation
from followup.models.reviews import Appointment, Review
from followup.selectors.hospital_slots import hospital_tells
from followup.services import message_contents
from registry.models.patients import Patient, PatientStatus
from registry.models.sites import Site

# What has not gone, and a failure that nobody has to look at any more.
STOPPABLE = (MessageState.WAITING, MessageState.FAILED)


def put(
    *,
    patient: Patient,
    site: Site,
    purpose: str,
    key: str,
    now: datetime,
    review: Review | None = None,
    appointment: Appointment | None = None,
    invitation: Invitation | None = None,
    wanted_at: datetime | None = None,
    number: int = 0,
) -> Message:
    """Put a message into the outbox, in the transaction of its reason; one `key` is put in once."""
    return Message.objects.get_or_create(
        key=key,
        defaults={
            "site": site,
            "patient": patient,
            "purpose": purpose,
            "review": review,
            "appointment": appointment,
            "invitation": invitation,
            "wanted_at": wanted_at or now,
            "number": number,
        },
    )[0]


def announce(*, appointment: Appointment, purpose: str, now: datetime) -> Message:
    """Put a message about an appointment into the outbox; the same one is never put in twice."""
    return put(
        patient=appointment.review.procedure.injury.patient,
        site=appointment.site,
        purpose=purpose,
        key=f"appointment:{appointment.pk}:{purpose}",
        review=appointment.review,
        appointment=appointment,
        now=now,
    )


def stop(*, appointment: Appointment, because: str) -> int:
    """Stop what has not gone yet about an appointment; return how many."""
    return stop_all(
        rows=Message.objects.filter(appointment=appointment, state__in=STOPPABLE), because=because
    )


def stop_about(*, invitation: Invitation, because: str) -> int:
    """Stop what has not gone yet about an invitation; return how many."""
    return stop_all(
        rows=Message.objects.filter(invitation=invitation, state__in=STOPPABLE), because=because
    )


def call_off(*, appointment: Appointment, now: datetime) -> None:
    """Stop what waits about a cancelled slot, and tell a patient who was told of it and may come.

    Nobody is told of a day that is over, nor after death, withdrawal or moving away, nor of a slot of
    which the hospital tells itself.
    """
    stop(appointment=appointment, because="the slot was cancelled")
    if hospital_tells(appointment):
        return
    patient = appointment.review.procedure.injury.patient
    ahead = appointment.on >= message_contents.local_day(appointment.site, now=now)
    if ahead and patient.status == PatientStatus.ACTIVE and _may_have_been_told(appointment):
        announce(appointment=appointment, purpose=MessagePurpose.APPOINTMENT_CANCELLED, now=now)


def _may_have_been_told(appointment: Appointment) -> bool:
    # One that a worker has just taken up may still go; delivery looks again whether it did.
    return (
        message_contents.was_told(appointment)
        or Message.objects.filter(
            appointment=appointment,
            purpose=MessagePurpose.APPOINTMENT_BOOKED,
            state=MessageState.SENDING,
        ).exists()
    )


def stop_for_patient(*, patient_id: int, because: str) -> int:
    """Stop everything that has not gone yet to a patient, and what waits for a person; return how many."""
    states = (*STOPPABLE, *PARKED)
    return stop_all(
        rows=Message.objects.filter(patient_id=patient_id, state__in=states), because=because
    )


def stop_all(*, rows: "QuerySet[Message]", because: str) -> int:
    """Stop messages that nobody is handing over; return how many."""
    return rows.exclude(state=MessageState.SENDING).update(
        state=MessageState.STOPPED, stopped_because=because[:200], version=F("version") + 1
    )


def note(
    *, messages: Sequence[Message], kind: StepKind, now: datetime, detail: str = "", **more: Any
) -> None:
    """Write one line about each message to its steps."""
    MessageStep.objects.bulk_create(
        [
            MessageStep(
                message=message,
                kind=kind,
                at=now,
                round=message.round,
                number=message.tries,
                detail=detail[:300],
                **{"means": message.means, **more},
            )
            for message in messages
        ]
    )
