"""Clinics, the days on which a site is closed, and what that means for what is planned."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import holidays

from followup.models.calendars import Clinic, ClosedDay
from followup.models.reviews import Appointment, AppointmentState
from followup.services import planning
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records, setup


@dataclass(frozen=True)
class Closed:
    """How many days were closed, how many proposed days moved, and how many booked slots stay."""

    days: int
    moved: int
    booked: int


def save_clinic(
    *, clinic: Clinic, values: Mapping[str, Any], expected_version: int, by: Person
) -> Clinic:
    """Add a clinic of a site, or change one over the version that the user saw.

    Planned reviews follow a changed weekday in the night; booked slots stay. Raises StaleVersion
    when somebody changed it first, BadInput when a value cannot be taken.
    """
    name = values.get("name", clinic.name)
    others = Clinic.objects.filter(site=clinic.site, name__iexact=name).exclude(pk=clinic.pk)
    if others.exists():
        raise BadInput({"name": f"{clinic.site} has a clinic called '{name}' already."})
    return setup.save_versioned(clinic, values, expected_version=expected_version, by=by)


def close_day(
    *, site: Site, on: date, reason: str, by: Person, now: datetime, today: date
) -> Closed:
    """Close a site on a day; what was planned for it moves inside its window, what is booked stays.

    Raises BadInput for a day that has passed or is closed already.
    """
    if on < today:
        raise BadInput({"on": f"{on:%d %b %Y} has passed; close a day that is still to come."})
    if ClosedDay.objects.filter(site=site, on=on).exists():
        raise BadInput({"on": f"{site} is closed on {on:%d %b %Y} already."})
    return _close(site, {on: reason}, by, now, today)


def close_holidays(*, site: Site, year: int, by: Person, now: datetime, today: date) -> Closed:
    """Close a site on the public holidays of a year that are to come; closing twice adds nothing.

    Raises BadInput when the site names no country, or none are known for it in that year.
    """
    if not site.holiday_country:
        raise BadInput(
            {"year": f"{site} names no country for public holidays; set it under Sites."}
        )
    known = holidays.country_holidays(
        site.holiday_country, subdiv=site.holiday_subdivision or None, years=year
    )
    if not known:
        raise BadInput(
            {"year": f"No public holidays of {site.holiday_country} are known in {year}."}
        )
    there = set(ClosedDay.objects.filter(site=site).values_list("on", flat=True))
    days = {on: name[:120] for on, name in known.items() if on >= today and on not in there}
    return _close(site, days, by, now, today)


def open_day(*, day: ClosedDay, by: Person) -> None:
    """Open a closed day again; the trail keeps that it was closed, and by whom."""
    with records.change(by=by, reason="opened again"):
        day.delete()


def _close(site: Site, days: Mapping[date, str], by: Person, now: datetime, today: date) -> Closed:
    if not days:
        return Closed(0, 0, 0)
    with records.change(by=by, reason="days closed"):
        for on, reason in sorted(days.items()):
            row = ClosedDay(site=site, on=on, reason=reason)
            records.check(row)
            row.save()
        moved = planning.move_proposals(
            site_id=site.pk, by=by, now=now, today=today, only=list(days)
        )
    booked = Appointment.objects.filter(site=site, on__in=list(days), state=AppointmentState.BOOKED)
    return Closed(len(days), moved, booked.count())
