"""The messages of the invented service: sent, stopped, waiting, failed, and not known whether they went."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from config.demo.staff import Staff
from followup.models import Appointment, Message, MessagePolicy, MessageStep, Review
from followup.models.messages import MessagePurpose, MessageState, StepKind
from followup.rules.reminders import key_of
from followup.services import message_contents
from registry.models import Site
from registry.models.patients import PatientStatus

TOLD, STOPPED, FAILED, UNKNOWN, WAITING = 12, 3, 3, 2, 4
MORNING = time(8)
NO_NUMBER = "the provider answered 422"
SILENT = "tried 8 times; the mail server cannot be reached: TimeoutError"
BROKE = "the connection broke while sending: SMTPServerDisconnected"


@dataclass(frozen=True)
class Course:
    """How a message went: its steps, each so many minutes after it was put in."""

    state: MessageState
    because: str
    means: str
    steps: tuple[tuple[StepKind, int, str], ...]

    @property
    def was_handed_over(self) -> bool:
        """Say whether it ever began to leave."""
        return any(kind == StepKind.HANDING_OVER for kind, _, _ in self.steps)


BEGUN = ((StepKind.CLAIMED, 1, ""), (StepKind.HANDING_OVER, 1, ""))


def fill(staff: Staff, *, now: datetime) -> int:
    """Write the rules of each site and some messages of each state; return how many messages."""
    MessagePolicy.objects.bulk_create(
        MessagePolicy(site=site, sends_text=True, sends_letter=True) for site in staff.sites
    )
    return sum(_of_site(site, now) for site in staff.sites)


def _of_site(site: Site, now: datetime) -> int:
    today = message_contents.local_day(site, now=now)
    active = {"procedure__injury__patient__status": PatientStatus.ACTIVE, "site": site}
    slots = list(
        Appointment.objects.filter(
            site=site,
            state="booked",
            on__gte=today,
            review__procedure__injury__patient__status="active",
        )
        .select_related("review__procedure__injury")
        .order_by("on", "at", "id")[:TOLD]
    )
    unbooked = list(
        Review.objects.filter(
            **active, state="planned", opens_on__lte=today, closes_on__gte=today + timedelta(days=1)
        )
        .select_related("procedure__injury")
        .order_by("due_on", "id")[: FAILED + UNKNOWN + WAITING]
    )
    accepted = ((StepKind.ACCEPTED, 1, ""),)
    went = Course(MessageState.SENT, "", "text", BEGUN + accepted)
    over = Course(
        MessageState.STOPPED,
        "the review is booked",
        "",
        ((StepKind.STOPPED, 5, "the review is booked"),),
    )
    rows = [_about_slot(slot, went, now - timedelta(days=2, hours=3)) for slot in slots]
    rows += [_reminder(slot.review, over, now - timedelta(days=3)) for slot in slots[:STOPPED]]
    rows += [
        _reminder(review, course, now - timedelta(days=1, hours=2))
        for review, course in zip(unbooked, _courses(), strict=False)
    ]
    tomorrow = datetime.combine(today + timedelta(days=1), MORNING, tzinfo=ZoneInfo(site.time_zone))
    for row, _ in rows:
        if row.state == MessageState.WAITING:
            row.wanted_at = tomorrow
    Message.objects.bulk_create([row for row, _ in rows])
    MessageStep.objects.bulk_create([step for _, steps in rows for step in steps])
    return len(rows)


def _courses() -> Sequence[Course]:
    refused = (*BEGUN, (StepKind.REFUSED, 1, NO_NUMBER))
    unheard = (*BEGUN, (StepKind.FAILED, 1, SILENT))
    parked = (*BEGUN, (StepKind.UNKNOWN, 1, BROKE))
    quiet = "quiet hours; it goes after them"
    return (
        *[Course(MessageState.FAILED, NO_NUMBER, "text", refused)] * (FAILED - 1),
        Course(MessageState.FAILED, SILENT, "email", unheard),
        *[Course(MessageState.UNKNOWN, BROKE, "email", parked)] * UNKNOWN,
        *[Course(MessageState.WAITING, quiet, "", ((StepKind.PUT_OFF, 1, quiet),))] * WAITING,
    )


def _about_slot(
    slot: Appointment, course: Course, put_at: datetime
) -> tuple[Message, list[MessageStep]]:
    purpose = MessagePurpose.APPOINTMENT_BOOKED
    message = Message(appointment=slot, purpose=purpose, key=f"appointment:{slot.pk}:{purpose}")
    return _row(message, slot.review, course, put_at)


def _reminder(
    review: Review, course: Course, put_at: datetime
) -> tuple[Message, list[MessageStep]]:
    message = Message(purpose=MessagePurpose.REMINDER, key=key_of(review.pk, 1), number=1)
    return _row(message, review, course, put_at)


def _row(
    message: Message, review: Review, course: Course, put_at: datetime
) -> tuple[Message, list[MessageStep]]:
    """Complete a message and its steps by how it went."""
    message.site_id, message.review = review.site_id, review
    message.patient_id = review.procedure.injury.patient_id
    message.state, message.stopped_because = course.state, course.because
    message.means, message.wanted_at = course.means, put_at
    begun = put_at + timedelta(minutes=1)
    if course.was_handed_over:
        message.handed_at, message.tries = begun, 1
    if course.state == MessageState.SENT:
        message.sent_at = begun
    steps = [
        MessageStep(
            message=message,
            kind=kind,
            at=put_at + timedelta(minutes=minutes),
            round=1,
            number=message.tries,
            means=course.means,
            detail=detail,
        )
        for kind, minutes, detail in course.steps
    ]
    return message, steps
