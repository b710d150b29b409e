"""Putting the reminders that fall due into the outbox, by each site's plan."""

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, QuerySet

from followup.models.messages import Message, MessagePurpose
from followup.models.reviews import Review, ReviewState
from followup.rules.reminders import ReminderPlan, key_of
from followup.selectors.messages import policy_of
from registry.models.patients import PatientStatus
from registry.models.sites import Site
from registry.services import jobs, records

AT_ONCE = 1000
UNBOOKED = (ReviewState.PLANNED, ReviewState.MISSED)
REASON = "reminders that fall due"


def plan_reminders(*, now: datetime, today: date) -> int:
    """Put every reminder that is due and not there yet into the outbox; return how many.

    Twice equals once: the key of a reminder is written once, whoever comes first. Reviews are read
    and reminders written a thousand at a time, so that memory does not grow with their number.
    """
    return sum(
        _of_site(site, now, today) for site in Site.objects.filter(is_active=True).order_by("pk")
    )


def _of_site(site: Site, now: datetime, today: date) -> int:
    policy = policy_of(site)
    plan = ReminderPlan(
        policy.reminder_count, policy.reminder_first_day, policy.reminder_spacing_days
    )
    if plan.count < 1:
        return 0
    rows = due_for_reminder(site, plan, today=today)
    put, last = 0, 0
    while True:
        some = list(
            rows.filter(pk__gt=last)
            .order_by("pk")
            .values_list("pk", "opens_on", "procedure__injury__patient_id")[:AT_ONCE]
        )
        if not some:
            return put
        last = some[-1][0]
        put += _put(site, some, plan, now, today)
        jobs.beat(len(some))


def due_for_reminder(site: Site, plan: ReminderPlan, *, today: date) -> "QuerySet[Any]":
    """Return a site's unbooked reviews in window of which nobody was reminded of late.

    Whole days of the site count: a reminder planned at night goes in the morning, after the quiet
    hours, and the next is not a day later for that.
    """
    first = today - timedelta(days=plan.spacing_days - 1)
    lately = Message.objects.filter(
        review=OuterRef("pk"),
        purpose=MessagePurpose.REMINDER,
        wanted_at__gte=datetime.combine(first, time(0), tzinfo=ZoneInfo(site.time_zone)),
    )
    return Review.objects.filter(
        ~Exists(lately),
        site=site,
        state__in=UNBOOKED,
        opens_on__lte=plan.opened_by(today),
        closes_on__gte=today,
        procedure__voided_at__isnull=True,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
        procedure__injury__patient__merged_into__isnull=True,
    )


def _put(
    site: Site,
    some: list[tuple[int, date, int]],
    plan: ReminderPlan,
    now: datetime,
    today: date,
) -> int:
    numbers = {
        review_id: (number, patient_id)
        for review_id, opens_on, patient_id in some
        if (number := plan.number_due(opens_on, today)) is not None
    }
    keys = [key_of(review_id, number) for review_id, (number, _) in numbers.items()]
    there = set(Message.objects.filter(key__in=keys).values_list("key", flat=True))
    fresh = [
        Message(
            site=site,
            patient_id=patient_id,
            review_id=review_id,
            purpose=MessagePurpose.REMINDER,
            key=key_of(review_id, number),
            number=number,
            wanted_at=now,
        )
        for review_id, (number, patient_id) in numbers.items()
        if key_of(review_id, number) not in there
    ]
    if fresh:
        with records.change(by=None, reason=REASON):
            # Another run may write the same reason at this moment; its key then stands.
            Message.objects.bulk_create(fresh, ignore_conflicts=True)
    return len(fresh)
