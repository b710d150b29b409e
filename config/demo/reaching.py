"""Whom the invented coordinator tries to reach: some in vain, some through others; her views and tasks."""

from datetime import date, datetime, time, timedelta

from config.demo.staff import Staff
from followup.models import Review
from followup.models.reviews import ReviewState
from followup.services import contacts, saved_filters, sums, tasks
from registry.models import AlternativeContact, Patient
from registry.services import alternatives

TRIED_AT = time(10, 40)
# Days ago and means of the tries at those who cannot be reached; and at those who get another route.
IN_VAIN = ((18, "phone"), (16, "phone"), (13, "phone"), (10, "text"), (7, "text"), (2, "letter"))
UNANSWERED = ((8, "phone"), (6, "phone"), (4, "phone"))
LOST, TRIED, WITH_OTHERS = 3, 2, 4
OTHERS = (
    ("Ottoline Marsh", "daughter", "0555 010 6121"),
    ("Bertil Quayle", "neighbour", "0555 010 6122"),
    ("Wenna Tolliver", "sister", "0555 010 6123"),
    ("Caspar Lindqvist", "carer", "0555 010 6124"),
)
VIEWS = (("Not booked yet", "show=unbooked"), ("Closing this week", "show=closing"))
ERRANDS = (
    ("contact", "Ask the family practice for a new number.", 1),
    ("other", "Send the operation note to the family practice.", -2),
    ("physiotherapy", "Arrange physiotherapy nearer to home.", 4),
)


def reach(staff: Staff, *, now: datetime, today: date) -> None:
    """Write tries, other contacts, kept views and tasks of the coordinator."""
    by = staff.coordinator
    waiting = _waiting(staff, today)
    for number, review in enumerate(waiting[: LOST + TRIED]):
        for days_ago, means in IN_VAIN if number < LOST else UNANSWERED:
            contacts.record_attempt(
                review=review,
                means=means,
                outcome="no_answer",
                note="",
                by=by,
                now=datetime.combine(today - timedelta(days=days_ago), TRIED_AT, tzinfo=now.tzinfo),
            )
    for review, (name, relation, phone) in zip(waiting[LOST + TRIED :], OTHERS, strict=False):
        alternatives.save_alternative(
            contact=AlternativeContact(patient=_patient(review)),
            values={"name": name, "relation": relation, "phone": phone},
            expected_version=1,
            by=by,
            now=now,
            today=today,
        )
    for name, query in VIEWS:
        saved_filters.save_filter(person=by, name=name, query=query)
    for review, (kind, words, days) in zip(waiting, ERRANDS, strict=False):
        tasks.open_task(
            site=review.site,
            patient=_patient(review),
            kind=kind,
            words=words,
            due_on=today + timedelta(days=days),
            key=f"{kind}:{review.pk}",
            by=by,
            now=now,
        )
    sums.count_reviews(now=now, today=today)


def _waiting(staff: Staff, today: date) -> list[Review]:
    """Return reviews in window that nobody has booked, those first whose window closes last."""
    rows = Review.objects.filter(
        site__in=staff.sites,
        state=ReviewState.PLANNED,
        opens_on__lte=today,
        closes_on__gte=today,
        procedure__injury__patient__status="active",
    ).select_related("site", "procedure__injury__patient")
    return list(rows.order_by("-closes_on", "id")[: WITH_OTHERS + LOST + TRIED])


def _patient(review: Review) -> Patient:
    patient: Patient = review.procedure.injury.patient
    return patient
