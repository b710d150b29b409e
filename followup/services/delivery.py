"""Delivering what waits in the outbox: each message goes once, whatever dies when.

A worker takes messages up by a conditional update (state 'sending', its claim). Right before it
hands one over it writes that down and commits; afterwards it writes down the answer. So when a
worker has died, what it had not begun to hand over is given back, and what it had begun is parked:
nobody knows whether it went. A carrier that can be asked is asked; all else is for a person.
"""

import logging
import random
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import DatabaseError, transaction
from django.db.models import F
from django.utils import timezone

from followup.exchange.delivery import Carrier, carrier_for
from followup.exchange.parcels import Answer, Outcome, Parcel
from followup.models.messages import (
    Message,
    MessagePolicy,
    MessagePurpose,
    MessageState,
    StepKind,
)
from followup.rules import dispatch, retry
from followup.selectors.messages import policy_of, rules_of
from followup.services import message_contents, messages
from followup.services.stuck_messages import ask_carriers, free_stuck, not_held
from registry.models.identities import Identity
from registry.models.patients import Patient
from registry.models.sites import Site
from registry.selectors import choices
from registry.services import jobs, records

AT_ONCE = 20
MOST_IN_A_RUN = 1000
# What tells of a person's act in clinic does not wait for the counts.
UNCAPPED = (MessagePurpose.APPOINTMENT_BOOKED, MessagePurpose.APPOINTMENT_CANCELLED)
HOLDING = (MessageState.SENDING, MessageState.UNKNOWN)
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Begun:
    """A message that is written down as being handed over."""

    message: Message
    claim: uuid.UUID
    parcel: Parcel
    carrier: Carrier


def deliver_waiting(
    *,
    now: datetime,
    limit: int = MOST_IN_A_RUN,
    clock: Callable[[], datetime] | None = None,
    chance: Callable[[], float] = random.random,
) -> dict[str, int]:
    """Send what may go now, a few at a time; return counts by what became of each.

    Carriers are asked afterwards, so that one that is slow to answer holds nothing up.
    `clock` tells the time as the run goes on, which a real run takes; without it all happens at
    `now`. Several runs side by side share the work.
    """
    moment = clock or (lambda: now)
    counts = dict.fromkeys(("sent", "stopped", "waiting", "failed", "unknown"), 0)
    _add(counts, free_stuck(now=moment()))
    left = limit
    while left > 0:
        claim = uuid.uuid4()
        taken = take_up(claim=claim, number=min(AT_ONCE, left), now=moment())
        for message_id in taken:
            counts[_deliver(message_id, claim, moment, chance)] += 1
            jobs.beat()
        left -= len(taken)
        if not taken:
            break
    _add(counts, ask_carriers(now=moment()))
    return counts


def _add(counts: dict[str, int], found: dict[str, int]) -> None:
    for became, number in found.items():
        counts[became] += number


def take_up(*, claim: uuid.UUID, number: int, now: datetime) -> list[int]:
    """Take up to so many waiting messages for one worker; return their keys, the longest due first.

    Each is taken by a conditional update, so that of two workers one has it.
    """
    due = Message.objects.filter(state=MessageState.WAITING, wanted_at__lte=now)
    if not due.exists():
        return []
    with records.change(by=None, reason="taken up for delivery"):
        ids = not_held(due.order_by("wanted_at", "id"), number)
        Message.objects.filter(pk__in=ids, state=MessageState.WAITING).update(
            state=MessageState.SENDING,
            claim=claim,
            claimed_at=now,
            handed_at=None,
            version=F("version") + 1,
        )
        taken = list(Message.objects.filter(pk__in=ids, claim=claim).order_by("wanted_at", "id"))
        messages.note(messages=taken, kind=StepKind.CLAIMED, now=now)
    return [message.pk for message in taken]


def _deliver(
    message_id: int,
    claim: uuid.UUID,
    moment: Callable[[], datetime],
    chance: Callable[[], float],
) -> str:
    try:
        begun = begin(message_id=message_id, claim=claim, now=moment())
    except DatabaseError:
        raise
    except Exception as fault:
        # One message that cannot be made must not hold up all that stand behind it.
        log.exception("message %s cannot be made", message_id)
        _end(message_id, claim, f"it could not be made: {type(fault).__name__}", moment())
        return "failed"
    if isinstance(begun, str):
        return begun
    try:
        answer = begun.carrier.hand_over(begun.parcel)
    except Exception as fault:
        log.exception("the carrier of message %s fell over", message_id)
        answer = Answer(Outcome.UNKNOWN, f"the carrier fell over: {type(fault).__name__}")
    return settle(begun=begun, answer=answer, now=moment(), chance=chance())


def begin(*, message_id: int, claim: uuid.UUID, now: datetime) -> Begun | str:
    """Decide about a message that is taken up; write down that it is now being handed over.

    Returns what is to be handed over, or what became of the message instead. Everything is looked
    at under the patient's lock, so that a death or another message is seen or waits.
    """
    with records.change(by=None, reason="delivery"):
        _hold_patient(message_id)
        message = _whole(message_id)
        if message.state != MessageState.SENDING or message.claim != claim:
            return "waiting"
        policy = policy_of(message.site)
        identity = Identity.objects.filter(patient=message.patient).first()
        verdict = dispatch.may_go(
            _recipient(message, identity, now),
            rules_of(policy),
            capped=message.purpose not in UNCAPPED,
        )
        never = verdict.reason if verdict.never else message_contents.outdated(message, now=now)
        if never or identity is None:
            return _put_aside(message, MessageState.STOPPED, StepKind.STOPPED, never, now)
        if verdict.until is not None:
            message.wanted_at = verdict.until
            return _put_aside(message, MessageState.WAITING, StepKind.PUT_OFF, verdict.reason, now)
        return _hand_over(message, policy, identity, verdict.means, claim, now)


def _hold_patient(message_id: int) -> None:
    patient_id = Message.objects.values_list("patient_id", flat=True).get(pk=message_id)
    # Where rows can be locked; elsewhere one transaction writes at a time.
    list(
        Patient.everything.select_for_update(no_key=True)
        .filter(pk=patient_id)
        .values_list("pk", flat=True)
    )


def _whole(message_id: int) -> Message:
    # Held, so that nobody gives it back to the outbox while it is being decided about.
    return (
        Message.objects.select_for_update(of=("self",), no_key=True)
        .select_related("patient", "site", "appointment__clinic", "review__step")
        .get(pk=message_id)
    )


def _hand_over(
    message: Message,
    policy: MessagePolicy,
    identity: Identity,
    means: str,
    claim: uuid.UUID,
    now: datetime,
) -> Begun | str:
    message.means = means
    try:
        # What was made for words that then cannot be written, as a link, goes with them.
        with transaction.atomic():
            words = message_contents.draft(message, policy, means, identity.language, now=now)
    except message_contents.NoWords as fault:
        return _put_aside(message, MessageState.FAILED, StepKind.FAILED, str(fault), now)
    carrier = carrier_for(means)
    message.tries += 1
    Message.objects.filter(pk=message.pk).update(
        means=means,
        handed_at=now,
        tries=message.tries,
        template=words.template,
        version=F("version") + 1,
    )
    key = str(message.uuid)
    again = message.steps.filter(kind=StepKind.HANDING_OVER, reference=key).exists()
    messages.note(
        messages=[message],
        kind=StepKind.HANDING_OVER,
        now=now,
        carrier=carrier.name,
        reference=key,
    )
    parcel = Parcel(
        key,
        means,
        _address(identity, means),
        words.subject,
        words.text,
        words.template.language,
        again,
    )
    return Begun(message, claim, parcel, carrier)


def settle(*, begun: Begun, answer: Answer, now: datetime, chance: float) -> str:
    """Write down what became of a message that was handed over; return it.

    An answer that comes late, after the message was parked, is still the answer, unless a person or
    another worker has gone on with it since.
    """
    message, carrier = begun.message, begun.carrier
    values, kind, became = _conclusion(message, answer, now, chance)
    with records.change(by=None, reason=f"delivery: {answer.detail or 'accepted'}"):
        rows = Message.objects.filter(
            pk=message.pk, claim=begun.claim, tries=message.tries, state__in=HOLDING
        )
        if rows.update(**values, version=F("version") + 1):
            about = {"carrier": carrier.name, "reference": answer.reference}
            messages.note(messages=[message], kind=kind, now=now, detail=answer.detail, **about)
    return became


def _conclusion(
    message: Message, answer: Answer, now: datetime, chance: float
) -> tuple[dict[str, Any], StepKind, str]:
    """Return the new values of a message, the kind of its step, and the word for the counts."""
    because = answer.detail[:200]
    match answer.outcome:
        case Outcome.ACCEPTED:
            sent = {"state": MessageState.SENT, "sent_at": now, "stopped_because": ""}
            return sent, StepKind.ACCEPTED, "sent"
        case Outcome.REFUSED:
            refused = {"state": MessageState.FAILED, "stopped_because": because}
            return refused, StepKind.REFUSED, "failed"
        case Outcome.UNKNOWN:
            # A carrier that can be asked is asked once it has surely made up its mind.
            parked = {
                "state": MessageState.UNKNOWN,
                "stopped_because": because,
                "wanted_at": now + timedelta(seconds=settings.DELIVERY_LEASE_SECONDS),
            }
            return parked, StepKind.UNKNOWN, "unknown"
    if retry.is_spent(message.tries):
        spent = f"tried {message.tries} times; {because}"[:200]
        return (
            {"state": MessageState.FAILED, "stopped_because": spent},
            StepKind.FAILED,
            "failed",
        )
    again = {
        "state": MessageState.WAITING,
        "stopped_because": because,
        "wanted_at": now + retry.wait_after(message.tries, chance),
        "claim": None,
        "claimed_at": None,
        "handed_at": None,
    }
    return again, StepKind.FAILED, "waiting"


def _put_aside(message: Message, state: str, kind: StepKind, because: str, now: datetime) -> str:
    """Let go of a message that is not handed over now; return its state."""
    Message.objects.filter(pk=message.pk).update(
        state=state,
        stopped_because=because[:200],
        wanted_at=message.wanted_at,
        claim=None,
        claimed_at=None,
        version=F("version") + 1,
    )
    messages.note(messages=[message], kind=kind, now=now, detail=because)
    return state


def _end(message_id: int, claim: uuid.UUID, because: str, now: datetime) -> None:
    with records.change(by=None, reason=because):
        rows = Message.objects.filter(pk=message_id, claim=claim, state=MessageState.SENDING)
        for message in rows.filter(handed_at__isnull=True):
            _put_aside(message, MessageState.FAILED, StepKind.FAILED, because, now)


def _recipient(message: Message, identity: Identity | None, now: datetime) -> dispatch.Recipient:
    return dispatch.Recipient(
        status=message.patient.status,
        contact_opted_out=choices.not_contacted().filter(pk=message.patient_id).exists(),
        preferred_means=identity.preferred_means if identity else "",
        refused_means=tuple(identity.refused_means) if identity else (),
        addresses=[means for means in dispatch.MEANS_IN_WORDS if _address(identity, means)],
        local_now=_local(message.site, now),
        sent_on=_days_sent(message, now),
    )


def _days_sent(message: Message, now: datetime) -> list[date]:
    """Return the site's days on which something went, or may have gone, to the patient of late."""
    since = now - timedelta(days=dispatch.WEEK_DAYS + 1)
    others = Message.objects.filter(patient=message.patient).exclude(pk=message.pk)
    sent = others.filter(state=MessageState.SENT, sent_at__gte=since)
    begun = others.filter(state__in=HOLDING, handed_at__gte=since)
    moments = [*sent.values_list("sent_at", flat=True), *begun.values_list("handed_at", flat=True)]
    return [_local(message.site, moment).date() for moment in moments if moment is not None]


def _address(identity: Identity | None, means: str) -> str:
    """Return where a means reaches somebody, '' where it does not."""
    if identity is None:
        return ""
    if means == "letter" and identity.address:
        return f"{identity.given_name} {identity.family_name}\n{identity.address}"
    return {"email": identity.email, "text": identity.phone}.get(means, "")


def _local(site: Site, now: datetime) -> datetime:
    return timezone.localtime(now, ZoneInfo(site.time_zone))
