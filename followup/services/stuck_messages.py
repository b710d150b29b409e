"""What workers that died left behind, and asking carriers about what nobody knows."""

import logging
from datetime import date, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.models import Count, F, Max, Q, QuerySet

from followup.exchange.delivery import Carrier, carrier_for
from followup.exchange.parcels import Taken
from followup.models.messages import Message, MessageState, StepKind
from followup.rules import retry
from followup.services import invitations, messages, reminders
from registry.services import jobs, records

AT_ONCE = 20
MAY_HAVE_GONE = "its worker ended while handing it over; it may have gone"
SAID = {
    Taken.YES: "the carrier took it",
    Taken.NO: "the carrier did not take it",
    Taken.NOT_KNOWN: "the carrier could not say whether it took it",
    Taken.NO_ANSWER: "the carrier did not answer whether it took it",
}
log = logging.getLogger(__name__)


def free_stuck(*, now: datetime) -> dict[str, int]:
    """Settle what workers left behind that ended while they held it; return how many of each.

    What was not being handed over waits again. Of the rest nobody knows whether it went.
    """
    before = now - timedelta(seconds=settings.DELIVERY_LEASE_SECONDS)
    held = Message.objects.filter(state=MessageState.SENDING)
    untouched = held.filter(handed_at__isnull=True, claimed_at__lt=before)
    waiting: dict[str, Any] = {"state": MessageState.WAITING, "claim": None, "claimed_at": None}
    parked = {"state": MessageState.UNKNOWN, "stopped_because": MAY_HAVE_GONE}
    return {
        "waiting": _free(untouched, waiting, StepKind.RELEASED, now),
        "unknown": _free(held.filter(handed_at__lt=before), parked, StepKind.UNKNOWN, now),
    }


def park_due(*, now: datetime, today: date, because: str) -> int:
    """Let nothing go by itself that was due up to now; return how many messages that were.

    For records that were put back from a copy: what was due may have gone since it was made, also what the
    nights since put into the outbox, which is put there once more. Carriers that can be asked are asked; the
    rest is for a person.
    """
    last = Message.objects.aggregate(last=Max("pk"))["last"] or 0
    invitations.invite_patients(now=now)
    reminders.plan_reminders(now=now, today=today)
    # What was put there just now may want to wait for the morning.
    owed = Q(wanted_at__lte=now) | Q(pk__gt=last)
    due = Message.objects.filter(
        Q(owed, state=MessageState.WAITING) | Q(state=MessageState.SENDING)
    )
    parked = {"state": MessageState.UNKNOWN, "stopped_because": because[:200]}
    return _free(due, parked, StepKind.UNKNOWN, now)


def _free(rows: "QuerySet[Message]", values: dict[str, Any], kind: StepKind, now: datetime) -> int:
    freed = 0
    while rows.exists():
        with records.change(by=None, reason="its worker ended"):
            found = list(rows.filter(pk__in=not_held(rows.order_by("id"), AT_ONCE)))
            ids = [message.pk for message in found]
            Message.objects.filter(pk__in=ids).update(
                **values, wanted_at=now, version=F("version") + 1
            )
            detail = values.get("stopped_because", "")
            messages.note(messages=found, kind=kind, now=now, detail=detail)
        freed += len(found)
        if not found:
            # Whoever holds the rest is settling it at this moment.
            break
    return freed


def not_held(rows: "QuerySet[Message]", number: int) -> list[int]:
    """Return the keys of rows that no other transaction is changing, and hold them.

    Where rows cannot be held, one transaction writes at a time.
    """
    if connection.features.has_select_for_update_skip_locked:
        rows = rows.select_for_update(skip_locked=True, no_key=True)
    return list(rows.values_list("pk", flat=True)[:number])


def ask_carriers(*, now: datetime) -> dict[str, int]:
    """Ask the carriers that can be asked about what may have gone; return what became of each.

    What was taken is sent; what was not goes again. After some answers that leave it open, it stays
    parked for a person. Each is asked about a few at once, and no more once one question got no
    answer: the next would wait as long.
    """
    counts = {"sent": 0, "waiting": 0, "failed": 0}
    for means in settings.CARRIERS:
        carrier = carrier_for(means)
        if not carrier.can_look_up:
            continue
        for message in list(_open_still(means, now)[:AT_ONCE]):
            taken = _ask(carrier, message)
            became = _settle(message, taken, carrier.name, message.asked + 1, now)
            if became in counts:
                counts[became] += 1
            jobs.beat()
            if taken is Taken.NO_ANSWER:
                break
    return counts


def _open_still(means: str, now: datetime) -> "QuerySet[Any]":
    """Return what may have gone by a means and may be asked about now, with how often it was."""
    asked = Count(
        "steps",
        filter=Q(steps__kind=StepKind.LOOKED_UP, steps__round=F("round"), steps__number=F("tries")),
    )
    parked = Message.objects.filter(state=MessageState.UNKNOWN, means=means, wanted_at__lte=now)
    few = parked.annotate(asked=asked).filter(asked__lt=retry.MOST_LOOK_UPS)
    return few.order_by("wanted_at", "id")


def _ask(carrier: Carrier, message: Message) -> Taken:
    try:
        return carrier.look_up(str(message.uuid))
    except Exception as fault:
        # One question that fails must not keep the others from being asked. The fault's own words
        # may quote the secret.
        said = jobs.words_for(fault)
        log.exception("message %s cannot be asked about: %s", message.pk, said, exc_info=False)
        return Taken.NOT_KNOWN


def _settle(message: Message, taken: Taken, carrier: str, asked: int, now: datetime) -> str:
    said = SAID[taken]
    values: dict[str, Any] = {"wanted_at": now + retry.wait_after(asked, 1.0)}
    became = MessageState.UNKNOWN
    if taken is Taken.YES:
        became = MessageState.SENT
        values = {"sent_at": message.handed_at or now, "stopped_because": ""}
    elif taken is Taken.NO:
        spent = retry.is_spent(message.tries)
        became = MessageState.FAILED if spent else MessageState.WAITING
        values = {"wanted_at": now, "stopped_because": said, "claim": None, "handed_at": None}
    with records.change(by=None, reason=said):
        # Somebody may have decided, or another worker asked, since it was read.
        changed = Message.objects.filter(
            pk=message.pk,
            state=MessageState.UNKNOWN,
            round=message.round,
            tries=message.tries,
            version=message.version,
        ).update(**values, state=became, version=F("version") + 1)
        if changed:
            messages.note(
                messages=[message], kind=StepKind.LOOKED_UP, now=now, detail=said, carrier=carrier
            )
    return became if changed else ""
