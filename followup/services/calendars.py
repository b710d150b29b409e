"""Clinics, the days on which a site is closed, and what that means for what is planned."""

import logging
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from followup.models.calendars import Clinic, ClosedDay, HeldDay
from followup.models.reviews import Appointment, AppointmentState
from followup.rules import public_holidays
from followup.services import planning
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records, setup

log = logging.getLogger(__name__)

# Reviews at two years, and their windows, lie inside what is filled in.
YEARS_AHEAD = 3


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
    known = _holidays_of(site, [year])
    if not known:
        raise BadInput(
            {"year": f"No public holidays of {site.holiday_country} are known in {year}."}
        )
    there = set(ClosedDay.objects.filter(site=site).values_list("on", flat=True))
    there |= set(HeldDay.objects.filter(site=site).values_list("on", flat=True))
    days = {on: name[:120] for on, name in known.items() if on >= today and on not in there}
    return _close(site, days, by, now, today, are_holidays=True)


def fill_holidays(*, site: Site, by: Person, now: datetime, today: date) -> Closed:
    """Make the public holidays ahead of a site what its country and part have; twice equals once.

    Holidays of a country or part that the site no longer names are open again. Those on which the
    site holds clinic all the same, and days that were closed for another reason, stay as they are.
    Raises BadInput for a country or part that is not known.
    """
    years = range(today.year, today.year + YEARS_AHEAD + 1)
    known = _holidays_of(site, years) if site.holiday_country else {}
    ahead = {row.on: row for row in ClosedDay.objects.filter(site=site, on__gte=today)}
    held = set(HeldDay.objects.filter(site=site, on__gte=today).values_list("on", flat=True))
    wanted = {on: name[:120] for on, name in known.items() if on >= today and on not in held}
    stale = [row for on, row in ahead.items() if row.is_public_holiday and on not in wanted]
    missing = {on: name for on, name in wanted.items() if on not in ahead}
    with records.change(by=by, reason="public holidays"):
        if stale:
            ClosedDay.objects.filter(pk__in=[row.pk for row in stale]).delete()
        done = _close(site, missing, by, now, today, are_holidays=True)
        opened = [row.on for row in stale]
        if opened:
            planning.move_proposals(
                site_id=site.pk, by=by, now=now, today=today, only=opened, opened=opened
            )
    return done


def fill_every_site(*, by: Person, now: datetime, today: date) -> int:
    """Fill in the public holidays of every site in use; return how many days were closed.

    A site whose country or part is not known is logged and waits to be corrected.
    """
    closed = 0
    for site in Site.objects.filter(is_active=True):
        try:
            closed += fill_holidays(site=site, by=by, now=now, today=today).days
        except BadInput as fault:
            log.warning("No public holidays are filled in: %s", fault)
    return closed


def _holidays_of(site: Site, years: Collection[int]) -> Mapping[date, str]:
    try:
        return public_holidays.of_years(site.holiday_country, site.holiday_subdivision, years)
    except ValueError as fault:
        raise BadInput({"holiday_country": f"{site}: {fault}; correct it under Sites."}) from fault


def open_day(*, day: ClosedDay, by: Person, now: datetime, today: date) -> int:
    """Open a closed day again; return how many planned reviews moved to it or for it.

    A public holiday is kept as one on which clinic is held all the same. The trail keeps that the
    day was closed, and by whom.
    """
    with records.change(by=by, reason="opened again"):
        if day.is_public_holiday:
            HeldDay.objects.get_or_create(
                site_id=day.site_id, on=day.on, defaults={"holiday": day.reason}
            )
        opened, site_id = [day.on], day.site_id
        day.delete()
        return planning.move_proposals(
            site_id=site_id, by=by, now=now, today=today, only=opened, opened=opened
        )


def _close(
    site: Site,
    days: Mapping[date, str],
    by: Person,
    now: datetime,
    today: date,
    *,
    are_holidays: bool = False,
) -> Closed:
    if not days:
        return Closed(0, 0, 0)
    with records.change(by=by, reason="days closed"):
        HeldDay.objects.filter(site=site, on__in=list(days)).delete()
        for on, reason in sorted(days.items()):
            row = ClosedDay(site=site, on=on, reason=reason, is_public_holiday=are_holidays)
            records.check(row)
            row.save()
        moved = planning.move_proposals(
            site_id=site.pk, by=by, now=now, today=today, only=list(days)
        )
    booked = Appointment.objects.filter(site=site, on__in=list(days), state=AppointmentState.BOOKED)
    return Closed(len(days), moved, booked.count())
