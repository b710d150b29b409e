"""Free slots of a site's clinics for one review."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from followup.models.calendars import Clinic, ClosedDay
from followup.models.reviews import Appointment, AppointmentState, Review

LOOK_AHEAD_DAYS = 60


@dataclass(frozen=True)
class FreeSlot:
    """The first free time of one clinic on one day, and how many are free there."""

    clinic: Clinic
    on: date
    at: time
    free: int
    inside_window: bool

    @property
    def value(self) -> str:
        """What a form sends back."""
        return f"{self.clinic.pk}|{self.on.isoformat()}|{self.at:%H:%M}"

    @property
    def label(self) -> str:
        """What a person reads."""
        late = "" if self.inside_window else ", outside the window"
        return f"{self.on:%a %d %b %Y} {self.at:%H:%M}, {self.clinic} ({self.free} free{late})"


def free_slots(review: Review, today: date, most: int = 40) -> list[FreeSlot]:
    """Return clinic days with a free slot, those inside the window first, nearest to proposed.

    Three queries, whatever the number of days.
    """
    first = max(today, review.opens_on)
    last = max(review.closes_on, today + timedelta(days=LOOK_AHEAD_DAYS))
    clinics = list(Clinic.objects.filter(site_id=review.site_id, is_active=True))
    closed = set(ClosedDay.objects.filter(site_id=review.site_id).values_list("on", flat=True))
    taken: dict[tuple[int, date], set[time]] = {}
    rows = Appointment.objects.filter(
        clinic__in=clinics, on__range=(first, last), state=AppointmentState.BOOKED
    ).values_list("clinic_id", "on", "at")
    for clinic_id, on, at in rows:
        taken.setdefault((clinic_id, on), set()).add(at)
    found = []
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        for clinic in clinics:
            if day.weekday() != clinic.weekday or day in closed:
                continue
            free = [t for t in times_of(clinic) if t not in taken.get((clinic.pk, day), set())]
            if free:
                inside = review.opens_on <= day <= review.closes_on
                found.append(FreeSlot(clinic, day, free[0], len(free), inside))
    found.sort(key=lambda slot: (not slot.inside_window, abs((slot.on - review.proposed_on).days)))
    return found[:most]


def times_of(clinic: Clinic) -> list[time]:
    """Return the times of a clinic's slots."""
    start = datetime.combine(date(2000, 1, 1), clinic.starts_at)
    step = timedelta(minutes=clinic.slot_minutes)
    return [(start + n * step).time() for n in range(clinic.slots)]
