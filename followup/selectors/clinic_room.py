"""What the days of a site's clinics hold: slots, who is booked, who is due and not booked yet."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, QuerySet

from followup.models.calendars import Clinic, ClosedDay
from followup.models.reviews import Appointment, AppointmentState, Review, ReviewState
from followup.rules.clinic_weeks import ClinicPlan, days_held, share_out
from registry.models.patients import PatientStatus

UNBOOKED = (ReviewState.PLANNED, ReviewState.MISSED)


@dataclass(frozen=True)
class Room:
    """The clinic days of a site from one day to another, by day and by clinic.

    `waiting` counts reviews without a slot by the day that they are proposed for; one whose proposed
    day has passed counts on the first clinic day that is left in its window. `nowhere` are those
    proposed for a day on which no clinic is held, the passed ones without a day left under the
    first day.
    """

    first: date
    last: date
    plans: tuple[ClinicPlan, ...]
    closed: Mapping[date, str]
    booked: Mapping[tuple[int, date], int]
    waiting: Mapping[date, Mapping[int | None, int]]
    nowhere: Mapping[date, int]

    def held_on(self, day: date) -> list[ClinicPlan]:
        """Return the clinics that are held on a day, in their order."""
        if day in self.closed or not self.first <= day <= self.last:
            return []
        return [plan for plan in self.plans if plan.weekday == day.weekday()]

    def days(self) -> list[date]:
        """Return every day on which a clinic is held."""
        each = (days_held(plan, self.closed, self.first, self.last) for plan in self.plans)
        return sorted({day for days in each for day in days})

    def slots(self, day: date) -> int:
        """Return how many slots a day holds."""
        return sum(plan.slots for plan in self.held_on(day))

    def free(self, day: date) -> int:
        """Return how many slots of a day are not booked."""
        return sum(self._free(plan, day) for plan in self.held_on(day))

    def waits(self, day: date) -> int:
        """Return how many without a slot are proposed for a day."""
        return sum(self.waiting.get(day, {}).values())

    def left(self, day: date) -> int:
        """Return how many slots stay free when everybody proposed for the day is booked on it."""
        return max(0, self.free(day) - self.waits(day))

    def by_clinic(self, day: date) -> dict[int, int]:
        """Return how many of those proposed for a day each clinic sees, by the clinics' keys."""
        held = self.held_on(day)
        free = {plan.key: self._free(plan, day) for plan in held}
        return share_out(held, free, self.waiting.get(day, {}))

    def counted_on(self, proposed_on: date, closes_on: date) -> date | None:
        """Return the clinic day on which a review without a slot counts; None when there is none."""
        if proposed_on >= self.first:
            return proposed_on if self.held_on(proposed_on) else None
        day = self.next_day()
        return day if day is not None and day <= closes_on else None

    def next_day(self) -> date | None:
        """Return the first day on which a clinic is held."""
        weekdays = {plan.weekday for plan in self.plans}
        return _next_day(weekdays, self.closed, self.first, self.last)

    def _free(self, plan: ClinicPlan, day: date) -> int:
        return max(0, plan.slots - self.booked.get((plan.key, day), 0))


def room_of(site_id: int, first: date, last: date) -> Room:
    """Return what the clinic days of a site hold, in five queries."""
    clinics = clinics_of(site_id).filter(is_active=True)
    plans = tuple(ClinicPlan(one.pk, one.weekday, one.slots, one.surgeon_id) for one in clinics)
    closed = dict(
        ClosedDay.objects.filter(site_id=site_id, on__range=(first, last)).values_list(
            "on", "reason"
        )
    )
    booked = (
        Appointment.objects.filter(
            site_id=site_id, on__range=(first, last), state=AppointmentState.BOOKED
        )
        .order_by()
        .values_list("clinic_id", "on")
        .annotate(number=Count("id"))
    )
    weekdays = {plan.weekday for plan in plans}
    waiting, nowhere = _waiting(site_id, first, last, weekdays, closed)
    return Room(
        first=first,
        last=last,
        plans=plans,
        closed=closed,
        booked={(clinic, on): number for clinic, on, number in booked},
        waiting=waiting,
        nowhere=nowhere,
    )


def clinics_of(site_id: int) -> "QuerySet[Clinic]":
    """Return the clinics of a site by weekday, time and name."""
    return Clinic.objects.filter(site_id=site_id).order_by("weekday", "starts_at", "name")


def unbooked(site_id: int, today: date, rows: "QuerySet[Any] | None" = None) -> "QuerySet[Any]":
    """Return the reviews of a site that wait for a slot and whose window is not over.

    With `rows`, those among them.
    """
    return (Review.objects.all() if rows is None else rows).filter(
        site_id=site_id,
        state__in=UNBOOKED,
        closes_on__gte=today,
        procedure__voided_at__isnull=True,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
        procedure__injury__patient__merged_into__isnull=True,
    )


def _waiting(
    site_id: int, first: date, last: date, weekdays: set[int], closed: Mapping[date, str]
) -> tuple[dict[date, Counter[int | None]], Counter[date]]:
    """Count those without a slot by day and operating surgeon, and those without a clinic day."""
    rows = unbooked(site_id, first).order_by()
    ahead = rows.filter(proposed_on__range=(first, last)).values_list(
        "proposed_on", "procedure__surgeon_id"
    )
    behind = rows.filter(proposed_on__lt=first).values_list("closes_on", "procedure__surgeon_id")
    waiting: dict[date, Counter[int | None]] = {}
    nowhere: Counter[date] = Counter()
    for day, surgeon, number in ahead.annotate(number=Count("id")):
        if day.weekday() in weekdays and day not in closed:
            waiting.setdefault(day, Counter())[surgeon] += number
        else:
            nowhere[day] += number
    next_day = _next_day(weekdays, closed, first, last)
    for closes_on, surgeon, number in behind.annotate(number=Count("id")):
        if next_day is not None and closes_on >= next_day:
            waiting.setdefault(next_day, Counter())[surgeon] += number
        else:
            nowhere[first] += number
    return waiting, nowhere


def _next_day(
    weekdays: set[int], closed: Mapping[date, str], first: date, last: date
) -> date | None:
    """Return the first day on which a clinic is held."""
    span = range((last - first).days + 1)
    days = (first + timedelta(days=n) for n in span)
    return next((day for day in days if day.weekday() in weekdays and day not in closed), None)
