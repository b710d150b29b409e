"""The outbox: a message is a row in the transaction of its reason; a worker sends it once."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils import timezone

from followup.models.messages import Message, MessagePurpose, MessageState
from followup.models.reviews import Appointment, Review, ReviewState
from followup.rules import dispatch
from registry.models.identities import Identity
from registry.models.patients import (
    Consent,
    ConsentDecision,
    ConsentPurpose,
    Patient,
    PatientStatus,
)
from registry.models.sites import Site
from registry.services import records

STUCK_AFTER = timedelta(minutes=30)
WAITING = (ReviewState.PLANNED, ReviewState.MISSED)


def put(
    *,
    patient: Patient,
    site: Site,
    purpose: str,
    key: str,
    now: datetime,
    review: Review | None = None,
    appointment: Appointment | None = None,
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
    return Message.objects.filter(appointment=appointment, state=MessageState.WAITING).update(
        state=MessageState.STOPPED, stopped_because=because[:200]
    )


def call_off(*, appointment: Appointment, now: datetime) -> None:
    """Stop what waits about a cancelled slot, and tell a patient who was told of it and may come.

    Nobody is told of a day that is over, nor after death, withdrawal or moving away.
    """
    stop(appointment=appointment, because="the slot was cancelled")
    told = Message.objects.filter(
        appointment=appointment,
        purpose=MessagePurpose.APPOINTMENT_BOOKED,
        state__in=[MessageState.SENDING, MessageState.SENT],
        patient__status=PatientStatus.ACTIVE,
    )
    if appointment.on >= _local(appointment.site, now).date() and told.exists():
        announce(appointment=appointment, purpose=MessagePurpose.APPOINTMENT_CANCELLED, now=now)


def stop_for_patient(*, patient_id: int, because: str) -> int:
    """Stop everything that has not gone yet to a patient; return how many."""
    return Message.objects.filter(patient_id=patient_id, state=MessageState.WAITING).update(
        state=MessageState.STOPPED, stopped_because=because[:200]
    )


def deliver_waiting(*, now: datetime, limit: int = 200) -> dict[str, int]:
    """Send what may go now; return counts by what became of each.

    A message is claimed by a conditional update, so that of two workers one sends it. One whose
    worker died while sending is parked as failed for a person, not sent again blindly.
    """
    counts = {"sent": 0, "stopped": 0, "waiting": 0, "failed": 0}
    counts["failed"] = Message.objects.filter(
        state=MessageState.SENDING, claimed_at__lt=now - STUCK_AFTER
    ).update(
        state=MessageState.FAILED, stopped_because="the worker died while sending; please check"
    )
    waiting = Message.objects.filter(state=MessageState.WAITING, wanted_at__lte=now)
    for message_id in list(waiting.order_by("id").values_list("id", flat=True)[:limit]):
        counts[deliver(message_id=message_id, now=now)] += 1
    return counts


def deliver(*, message_id: int, now: datetime) -> str:
    """Send one message when it may go; return what became of it."""
    taken = Message.objects.filter(pk=message_id, state=MessageState.WAITING).update(
        state=MessageState.SENDING, claimed_at=now
    )
    if not taken:
        return "waiting"
    message = Message.objects.select_related(
        "patient", "site", "appointment__clinic", "review__step"
    ).get(pk=message_id)
    outdated = _outdated(message, now)
    if outdated:
        _settle(message, MessageState.STOPPED, outdated, None)
        return "stopped"
    identity = Identity.objects.filter(patient=message.patient).first()
    verdict = dispatch.may_go(_recipient(message, identity, now), message.means)
    if verdict.go and identity is not None:
        return _send(message, identity, now)
    state = MessageState.STOPPED if verdict.never else MessageState.WAITING
    _settle(message, state, verdict.reason, None)
    return "stopped" if verdict.never else "waiting"


def _outdated(message: Message, now: datetime) -> str:
    """Say why a message has nothing to tell any more, or nothing."""
    if message.appointment is not None:
        over = message.appointment.on < _local(message.site, now).date()
        return "the day of the slot is over" if over else ""
    if message.review is not None and message.review.state not in WAITING:
        return f"the review is {message.review.get_state_display().lower()}"
    return ""


def _recipient(message: Message, identity: Identity | None, now: datetime) -> dispatch.Recipient:
    choice = (
        Consent.objects.filter(patient=message.patient, purpose=ConsentPurpose.CONTACT)
        .order_by("-decided_on", "-id")
        .first()
    )
    return dispatch.Recipient(
        status=message.patient.status,
        contact_opted_out=choice is not None and choice.decision == ConsentDecision.OPTED_OUT,
        refused_means=tuple(identity.refused_means) if identity else (),
        has_address=bool(identity and identity.email),
        local_now=_local(message.site, now),
    )


def _local(site: Site, now: datetime) -> datetime:
    return timezone.localtime(now, ZoneInfo(site.time_zone))


def _send(message: Message, identity: Identity, now: datetime) -> str:
    subject, body = _text(message)
    try:
        EmailMessage(subject, body, settings.DEFAULT_FROM_EMAIL, [identity.email]).send()
    except OSError as fault:
        _settle(message, MessageState.FAILED, f"could not be handed over: {fault}", None)
        return "failed"
    _settle(message, MessageState.SENT, "", now)
    return "sent"


def _text(message: Message) -> tuple[str, str]:
    slot = message.appointment
    if slot is None:
        return "Your follow-up", f"Please ring {message.site.name} about your follow-up visit."
    when = f"{slot.on:%A %d %B %Y} at {slot.at:%H:%M}"
    if message.purpose == MessagePurpose.APPOINTMENT_CANCELLED:
        return (
            "Your appointment is cancelled",
            f"Your appointment on {when} is cancelled. We will write if we book another.",
        )
    booked = f"We have booked you a clinic visit on {when} at {message.site.name}."
    return ("Your appointment", f"{booked} If you cannot come, please ring the clinic.")


def _settle(message: Message, state: str, because: str, sent_at: datetime | None) -> None:
    with records.change(by=None, reason=because):
        Message.objects.filter(pk=message.pk, state=MessageState.SENDING).update(
            state=state, stopped_because=because[:200], sent_at=sent_at
        )
