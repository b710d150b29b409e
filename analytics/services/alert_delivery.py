"""Sending what waits in the outbox of alerts: each e-mail once, whatever dies when.

As with messages to patients: taken up by a conditional update, written down right before it is handed
over and after the answer. What a dead worker had not begun goes again; what it had begun is parked,
since nobody knows whether it went, and the alert still waits on its page.
"""

import logging
import random
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import DatabaseError
from django.urls import reverse
from django.utils import timezone

from analytics.models.alert_mails import AlertMail, MailChoice, MailState
from analytics.models.alerts import AlertState, LossAlert
from analytics.rules import alert_mail_words
from analytics.selectors.alert_mails import choices_of, surgeons_in_office
from followup.exchange.delivery import Carrier, carrier_for
from followup.exchange.parcels import Answer, Outcome, Parcel
from followup.rules import dispatch, retry
from followup.selectors.messages import policy_of, rules_of
from registry.services import jobs, records

AT_ONCE = 20
MEANS, LANGUAGE = "email", "en"
REASON = "delivery of alerts"
NOTHING_LEFT = "planned, or no longer so, before it went"
MAY_HAVE_GONE = "its worker ended while handing it over; it may have gone"
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Begun:
    """An e-mail that is written down as being handed over."""

    mail: AlertMail
    parcel: Parcel
    carrier: Carrier


def deliver(
    *,
    now: datetime,
    clock: Callable[[], datetime] | None = None,
    chance: Callable[[], float] = random.random,
) -> dict[str, int]:
    """Send what may go now; return counts by what became of each. Several runs share the work."""
    moment = clock or (lambda: now)
    counts = dict.fromkeys((state.value for state in MailState), 0)
    free_stuck(now=moment())
    while taken := take_up(claim=uuid.uuid4(), now=moment()):
        for mail in taken:
            became = _deliver(mail, moment, chance)
            if became in counts:
                counts[became] += 1
            jobs.beat()
    return counts


def free_stuck(*, now: datetime) -> int:
    """Settle what a worker left behind that died while it held it; return how many."""
    before = now - timedelta(seconds=settings.DELIVERY_LEASE_SECONDS)
    held = AlertMail.objects.filter(state=MailState.SENDING, claimed_at__lt=before)
    with records.change(by=None, reason="its worker ended"):
        untouched = held.filter(handed_at__isnull=True).update(
            state=MailState.WAITING, claim=None, claimed_at=None
        )
        begun = held.filter(handed_at__isnull=False).update(
            state=MailState.UNKNOWN, because=MAY_HAVE_GONE
        )
    return untouched + begun


def take_up(*, claim: uuid.UUID, now: datetime) -> list[AlertMail]:
    """Take up some of what waits, each by a conditional update, so that of two workers one has it."""
    due = AlertMail.objects.filter(state=MailState.WAITING, wanted_at__lte=now)
    ids = list(due.order_by("wanted_at", "id").values_list("pk", flat=True)[:AT_ONCE])
    if not ids:
        return []
    with records.change(by=None, reason=REASON):
        due.filter(pk__in=ids).update(
            state=MailState.SENDING, claim=claim, claimed_at=now, handed_at=None
        )
    rows = AlertMail.objects.filter(claim=claim, state=MailState.SENDING)
    return list(rows.select_related("person", "site").order_by("wanted_at", "id"))


def _deliver(mail: AlertMail, moment: Callable[[], datetime], chance: Callable[[], float]) -> str:
    try:
        begun = begin(mail=mail, now=moment())
    except DatabaseError:
        raise
    except Exception as fault:
        # One e-mail that cannot be made must not hold up all that stand behind it.
        log.exception("the e-mail %s about alerts cannot be made", mail.pk)
        failed = {"state": MailState.FAILED, "because": f"not made: {type(fault).__name__}"}
        return _set(mail, **failed)
    if isinstance(begun, str):
        return begun
    try:
        answer = begun.carrier.hand_over(begun.parcel)
    except Exception as fault:
        # A carrier is another's code, and whatever it raises says nothing of whether it handed over.
        log.exception("the carrier of the e-mail %s about alerts fell over", mail.pk)
        answer = Answer(Outcome.UNKNOWN, f"the carrier fell over: {type(fault).__name__}")
    return settle(mail=mail, answer=answer, now=moment(), chance=chance())


def begin(*, mail: AlertMail, now: datetime) -> Begun | str:
    """Decide about an e-mail that is taken up, and write down that it is now being handed over.

    Returns what is to be handed over, or the state that it got instead: stopped where no alert of it
    is open any more or its person is not to be told, waiting during the quiet hours of its site.
    """
    with records.change(by=None, reason=REASON):
        open_still = LossAlert.objects.filter(told__mail=mail, state=AlertState.OPEN)
        levels = list(open_still.order_by("level", "id").values_list("level", flat=True))
        local = timezone.localtime(now, ZoneInfo(mail.site.time_zone))
        because = _never(mail, local) if levels else NOTHING_LEFT
        if because:
            return _set(mail, state=MailState.STOPPED, because=because)
        quiet = rules_of(policy_of(mail.site)).quiet_by(MEANS)
        if quiet.holds(local.time()):
            return _set(
                mail,
                state=MailState.WAITING,
                wanted_at=dispatch.end_of_quiet(local, quiet),
                claim=None,
                claimed_at=None,
            )
        mail.tries += 1
        if not _set(mail, state=MailState.SENDING, handed_at=now, tries=mail.tries):
            return MailState.WAITING.value
    address = f"{settings.PUBLIC_URL}{reverse('films-lost')}"
    parcel = Parcel(
        key=str(mail.uuid),
        means=MEANS,
        to=mail.person.email,
        subject=f"Holdfast: {alert_mail_words.subject(levels)}",
        text=alert_mail_words.body(levels, str(mail.site), address),
        language=LANGUAGE,
        again=mail.tries > 1,
    )
    return Begun(mail, parcel, carrier_for(MEANS))


def _never(mail: AlertMail, local: datetime) -> str:
    people = surgeons_in_office(mail.site, local.date())
    if mail.person_id not in people:
        return "no active surgeon of the site any more"
    if choices_of([mail.person_id])[mail.person_id] == MailChoice.NONE:
        return "does not want to be told by e-mail"
    return "" if mail.person.email else "has no e-mail address"


def settle(*, mail: AlertMail, answer: Answer, now: datetime, chance: float) -> str:
    """Write down what became of an e-mail that was handed over; return its state."""
    because = answer.detail[:200]
    if answer.outcome == Outcome.ACCEPTED:
        return _set(mail, state=MailState.SENT, sent_at=now, because="")
    if answer.outcome == Outcome.UNKNOWN:
        return _set(mail, state=MailState.UNKNOWN, because=because)
    if answer.outcome == Outcome.REFUSED or retry.is_spent(mail.tries):
        return _set(mail, state=MailState.FAILED, because=because)
    again = now + retry.wait_after(mail.tries, chance)
    free = {"claim": None, "claimed_at": None, "handed_at": None}
    return _set(mail, state=MailState.WAITING, wanted_at=again, because=because, **free)


def _set(mail: AlertMail, **values: Any) -> str:
    """Change an e-mail that is still ours; return the state that it got, '' where it is not ours."""
    with records.change(by=None, reason=REASON):
        changed = AlertMail.objects.filter(pk=mail.pk, claim=mail.claim).update(**values)
    return str(values["state"].value) if changed else ""
