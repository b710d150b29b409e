"""The books of the rehearsal: every day they must balance, and at the end they are read out."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from config.rehearsal.letterbox import Letter
from config.rehearsal.stage import ZONE, Stage
from followup.models import Appointment, ContactAttempt, HardwareDecision, Message, Review
from followup.models.contacts import Unreachable
from followup.models.messages import MessageState
from followup.models.questionnaires import Invitation
from followup.models.reviews import AppointmentState
from followup.models.tasks import Task
from followup.rules import prompts
from followup.rules.planner import WAITING
from followup.selectors import sums
from followup.services.hardware import IMPLANTING
from followup.services.planning import PURPOSE
from registry.models import Patient, Procedure
from registry.models.identities import Identity
from registry.models.patients import PatientStatus

QUIET_FROM, QUIET_UNTIL = time(21), time(8)
Table = list[tuple[str, str, int]]


class Unaccounted(Exception):
    """Somebody or something is lost: who, and since when."""


def balance(stage: Stage, today: date, *, swept: bool) -> None:
    """Hold the books of a day against each other; `swept` says whether the night's work was done.

    Raises Unaccounted with everything that does not agree.
    """
    faults = [*_sums(stage), *_patients(), *_closed()]
    if swept:
        faults += [*_overdue(today), *_unasked(today)]
    if faults:
        raise Unaccounted(f"{today:%d %b %Y}: {'; '.join(faults)}")


def _sums(stage: Stage) -> Iterator[str]:
    counted = sums.review_sums(stage.coordinator)
    there = Review.objects.count()
    if counted.difference or counted.planned != there:
        yield f"the sums differ by {counted.difference}: {counted.planned} counted, {there} there"


def _patients() -> Iterator[str]:
    followed = Procedure.objects.filter(
        kind__in=list(PURPOSE), injury__patient__status=PatientStatus.ACTIVE
    )
    for lost in followed.filter(reviews__isnull=True):
        yield f"operation {lost.pk} has no review"


def _closed() -> Iterator[str]:
    gone = Review.objects.filter(state__in=WAITING).exclude(
        procedure__injury__patient__status=PatientStatus.ACTIVE
    )
    for review in gone:
        yield f"review {review.pk} is open though the patient has left"
    slots = Appointment.objects.filter(state=AppointmentState.BOOKED).exclude(
        review__state__in=WAITING
    )
    for slot in slots:
        yield f"slot {slot.pk} is booked for a review that is over"


def _overdue(today: date) -> Iterator[str]:
    # Who was booked for today, outside the window, and did not come: the next night lets it lapse.
    seen_to = Appointment.objects.filter(review=OuterRef("pk"), on__gte=today).exclude(
        state=AppointmentState.CANCELLED
    )
    late = Review.objects.filter(~Exists(seen_to), state__in=WAITING, closes_on__lt=today)
    for review in late:
        yield f"review {review.pk} closed on {review.closes_on} and is still {review.state}"


def _unasked(today: date) -> Iterator[str]:
    meant_to_come_out = Procedure.objects.filter(
        kind__in=IMPLANTING,
        construct__construct_type__planned_removal=True,
        injury__patient__status=PatientStatus.ACTIVE,
        hardware_decisions__isnull=True,
        revised_by__isnull=True,
    ).select_related("construct__construct_type")
    for one in meant_to_come_out:
        weeks = one.construct.construct_type.removal_opens_weeks
        if prompts.planned_removal_opens(one.performed_on, weeks) <= today:
            yield f"nobody was asked about the hardware of operation {one.pk}"


def read_post(letters: list[Letter]) -> Iterator[str]:
    """Return what is wrong with what arrived: at night, after the end, twice, or without a row."""
    endings = {
        email: (status, on)
        for email, status, on in Identity.objects.exclude(email="").values_list(
            "email", "patient__status", "patient__status_on"
        )
    }
    for letter in letters:
        clock = letter.at.astimezone(ZoneInfo(ZONE))
        if clock.time() >= QUIET_FROM or clock.time() < QUIET_UNTIL:
            yield f"a message to {letter.to} came at {clock:%H:%M}"
        status, on = endings.get(letter.to, ("", None))
        if status != PatientStatus.ACTIVE and on is not None and clock.date() > on:
            yield f"a message to {letter.to} came on {clock:%d %b}, after {status} on {on}"
    sent = Message.objects.filter(state=MessageState.SENT, means="email").count()
    if sent != len(letters):
        yield f"{len(letters)} e-mails arrived and {sent} are written down as sent"
    arrived = Counter((one.to, one.at, one.body) for one in letters)
    for (to, at, _), times in arrived.items():
        if times > 1:
            yield f"the same message came to {to} {times} times on {at:%d %b at %H:%M}"


def tables() -> Table:
    """Return the counts at the end: what of, in which way, how many."""
    rows: Table = []
    ways = Review.objects.aggregate(
        **{name: Count("id", filter=rule) for name, (_, rule) in sums.WAYS.items()}
    )
    rows += [("reviews", words, ways[name]) for name, (words, _) in sums.WAYS.items()]
    rows += _by(Patient.objects.all(), "status", "patients")
    rows += _by(Procedure.objects.all(), "kind", "operations")
    rows += _by(Appointment.objects.all(), "state", "slots")
    rows += _by(ContactAttempt.objects.all(), "outcome", "tries by telephone")
    rows += _by(HardwareDecision.objects.all(), "state", "hardware questions")
    rows += _by(Task.objects.all(), "kind", "tasks opened")
    invitations = Invitation.objects.aggregate(
        answered=Count("pk", filter=Q(completed_at__isnull=False)),
        withdrawn=Count("pk", filter=Q(revoked_at__isnull=False)),
        unanswered=Count("pk", filter=Q(completed_at__isnull=True, revoked_at__isnull=True)),
    )
    rows += [("questionnaires", way, many) for way, many in invitations.items()]
    lost = Unreachable.objects.aggregate(
        still=Count("pk", filter=Q(ended_on__isnull=True)),
        over=Count("pk", filter=Q(ended_on__isnull=False)),
    )
    rows += [("could not be reached", way, many) for way, many in lost.items()]
    messages = Message.objects.values_list("purpose", "state").annotate(many=Count("id"))
    for purpose, state, many in messages.order_by("purpose", "state"):
        rows.append((f"messages: {purpose.replace('_', ' ')}", state, many))
    return rows


def unexplained() -> int:
    """Return how many reviews stand in none of the ways that have a word, or in two at once."""
    ways = Q(pk__in=[])
    for _, rule in sums.WAYS.values():
        ways |= rule
    without_reason = Q(state="not_needed", ended_because="") | Q(
        state="attended", attended_on__isnull=True
    )
    return Review.objects.filter(~ways | without_reason).count()


def decisions_left(today: date) -> int:
    """Return how many constructs that are meant to come out have neither a question nor an answer."""
    return len(list(_unasked(today)))


def silence(now: datetime) -> int:
    """Return how many messages have waited for more than a day without going or being stopped."""
    long_ago = now - timedelta(days=1)
    return Message.objects.filter(state=MessageState.WAITING, wanted_at__lt=long_ago).count()


def _by(rows: "QuerySet[Any]", column: str, what: str) -> Table:
    counted = rows.values_list(column).annotate(many=Count("pk")).order_by(column)
    return [(what, str(value).replace("_", " "), many) for value, many in counted]
