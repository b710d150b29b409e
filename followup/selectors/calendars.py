"""When a site holds clinic and when it does not, as the set-up shows it."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Count
from django.utils.dates import WEEKDAYS

from followup.models.calendars import Clinic, ClosedDay, HeldDay
from followup.models.reviews import Appointment, AppointmentState
from followup.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer


@dataclass(frozen=True)
class ClinicLine:
    """One clinic in words, and how many slots are booked on days on which it is not held."""

    clinic: Clinic
    weekday: str
    stranded: int


@dataclass(frozen=True)
class ClosedLine:
    """One closed day, and how many slots are booked on it all the same."""

    day: ClosedDay
    booked: int


@dataclass(frozen=True)
class SiteDays:
    """The clinics of a site, its closed days to come, and the holidays on which clinic is held."""

    site: Site
    clinics: tuple[ClinicLine, ...]
    closed: tuple[ClosedLine, ...]
    held: tuple[HeldDay, ...]


def site_days(user: Viewer, today: date) -> list[SiteDays]:
    """Return the clinic days of the sites that a person sets up, in five queries."""
    sites = list(visible(user, Site, "set_up"))
    clinics = list(visible(user, Clinic, "set_up").select_related("surgeon"))
    closed = list(visible(user, ClosedDay, "set_up").filter(on__gte=today))
    held = list(visible(user, HeldDay, "set_up").filter(on__gte=today))
    on_day, stranded = _booked(sites, {clinic.pk: clinic for clinic in clinics}, today)
    return [
        SiteDays(
            site,
            tuple(
                ClinicLine(one, str(WEEKDAYS[one.weekday]), stranded[one.pk])
                for one in clinics
                if one.site_id == site.pk
            ),
            tuple(
                ClosedLine(one, on_day[site.pk, one.on]) for one in closed if one.site_id == site.pk
            ),
            tuple(one for one in held if one.site_id == site.pk),
        )
        for site in sites
    ]


def _booked(
    sites: Sequence[Site], clinics: Mapping[int, Clinic], today: date
) -> tuple[Counter[tuple[int, date]], Counter[int]]:
    """Count the slots to come by site and day, and by clinic those on days it is not held on."""
    rows = (
        Appointment.objects.filter(site__in=sites, on__gte=today, state=AppointmentState.BOOKED)
        .order_by()
        .values_list("site_id", "clinic_id", "on")
        .annotate(number=Count("id"))
    )
    on_day: Counter[tuple[int, date]] = Counter()
    stranded: Counter[int] = Counter()
    for site_id, clinic_id, on, number in rows:
        on_day[site_id, on] += number
        clinic = clinics.get(clinic_id)
        if clinic is not None and (on.weekday() != clinic.weekday or not clinic.is_active):
            stranded[clinic_id] += number
    return on_day, stranded
