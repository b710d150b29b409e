"""A week that is too full, so that there is something to level; and calendars to subscribe to."""

from collections import Counter
from datetime import date, datetime, timedelta

from config.demo.staff import Staff
from followup.models import Appointment, Clinic, Review
from followup.models.reviews import AppointmentState
from followup.selectors.clinic_room import room_of, unbooked
from followup.services import feeds
from registry.models import Site
from registry.services import records

# A larger invented service fills its clinics by itself.
MOST_PROCEDURES = 1000
FEW_SLOTS = 3
AHEAD_DAYS, LOOK_DAYS = 18, 14
TOO_MANY = 5
COLLECTED = "collected on one day, because the weeks around it were to be closed"
SMALL = "as many slots as a small service needs"


def crowd(staff: Staff, *, now: datetime, today: date) -> None:
    """Give a small service small clinics, and one clinic day more patients than slots."""
    site = staff.sites[0]
    with records.change(by=staff.coordinator, reason=SMALL):
        _shrink(staff.sites)
        _collect(site, staff, now, today)
    feeds.issue(site=site, clinic=None, by=staff.people["surgeon"], now=now)
    feeds.issue(site=site, clinic=site.clinics.earliest("id"), by=staff.coordinator, now=now)


def _shrink(sites: tuple[Site, ...]) -> None:
    """Leave each clinic with what its fullest day holds, and a few at least."""
    fullest: Counter[int] = Counter()
    days = Counter(
        Appointment.objects.filter(state=AppointmentState.BOOKED).values_list("clinic_id", "on")
    )
    for (clinic_id, _), number in days.items():
        fullest[clinic_id] = max(fullest[clinic_id], number)
    for clinic in Clinic.objects.filter(site__in=sites):
        slots = max(FEW_SLOTS, fullest[clinic.pk])
        Clinic.objects.filter(pk=clinic.pk).update(slots=slots, version=clinic.version + 1)


def _collect(site: Site, staff: Staff, now: datetime, today: date) -> None:
    """Propose one clinic day for everybody whose window holds it, until it is well over."""
    first = today + timedelta(days=AHEAD_DAYS)
    room = room_of(site.pk, today, first + timedelta(days=LOOK_DAYS))
    day = min(room.days(), key=lambda one: (one < first, room.free(one), one))
    wanted = room.free(day) - room.waits(day) + TOO_MANY
    rows = unbooked(site.pk, today).filter(opens_on__lte=day, closes_on__gte=day)
    near = sorted(
        rows.exclude(proposed_on=day), key=lambda one: (abs((one.due_on - day).days), one.pk)
    )
    for review in near[:wanted]:
        _move(review, day, staff, now)


def _move(review: Review, day: date, staff: Staff, now: datetime) -> None:
    records.save(
        review,
        {"proposed_on": day, "day_chosen": True},
        by=staff.coordinator,
        now=now,
        expected_version=review.version,
        reason=COLLECTED,
    )
