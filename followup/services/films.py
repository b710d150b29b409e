"""Films and what readers measure on them."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Q, QuerySet

from followup import notices
from followup.models.films import CALIBRATED, Film, Reading
from followup.rules.findings import Found
from followup.services import days, findings, second_readings, symptoms
from followup.services.superseding import supersede
from registry.errors import BadInput
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.services import gathering, records

FACTS = ("taken_on", "view", "posture", "weighted", "shows_both_sides", "calibration")
# What of a reading needs a calibrated film, and what one that shows both sides.
IN_MM = ("ccd_injured_mm", "ccd_other_mm", "acd_injured_mm", "acd_other_mm")
OF_BOTH_SIDES = ("ccd_other_mm", "ccd_side_ratio_pct", "acd_other_mm")


def record_film(
    *,
    injury: Injury,
    values: Mapping[str, Any],
    by: Person,
    now: datetime,
    today: date,
) -> Film:
    """Save one radiograph of an injury.

    Raises BadInput when it was taken in the future or before the injury.
    """
    film = Film(injury=injury, site=injury.site, **values)
    _day_possible(injury, film.taken_on, today)
    return records.create(film, by=by, now=now)


def correct_film(
    *,
    film: Film,
    values: Mapping[str, Any],
    reason: str,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Film:
    """Correct what a film is: its day, view, posture, weight, sides, calibration.

    Raises StaleVersion when somebody changed it first, BadInput for an impossible day and where a
    reading measured what the film would then not show.
    """
    changed = {**{name: getattr(film, name) for name in FACTS}, **values}
    _day_possible(film.injury, changed["taken_on"], today)
    with records.change(by=by, reason=reason):
        # Nobody reads it meanwhile by what it was.
        Film.objects.select_for_update().get(pk=film.pk)
        read = Reading.objects.filter(film=film, superseded_by__isnull=True)
        faults: dict[str, str] = {}
        if not changed["shows_both_sides"]:
            other = [Q(**{f"{name}__isnull": False}) for name in OF_BOTH_SIDES]
            faults |= _held_by(
                read.filter(reduce(or_, other)), "shows_both_sides", "the other side"
            )
        if changed["calibration"] not in CALIBRATED:
            in_mm = [Q(**{f"{name}__isnull": False}) for name in IN_MM]
            faults |= _held_by(read.filter(reduce(or_, in_mm)), "calibration", "millimetres")
        if faults:
            raise BadInput(faults)
        row = records.save(film, values, by=by, now=now, expected_version=expected_version)
        notices.film_corrected.send(sender=Film, film=row, by=by, now=now)
    return row


def _held_by(readings: QuerySet[Reading], field: str, what: str) -> dict[str, str]:
    """Return a fault where readings measured what a film would not show any more."""
    names = sorted({str(one.reader) for one in readings.select_related("reader")})
    if not names:
        return {}
    who = ", ".join(names)
    return {field: f"{who} measured {what} on this film: that reading has to be corrected first."}


def _day_possible(injury: Injury, taken_on: date, today: date) -> None:
    if taken_on > today:
        raise BadInput({"taken_on": f"{taken_on} is in the future."})
    if taken_on < injury.injured_earliest:
        raise BadInput(
            {"taken_on": f"{taken_on} is before the injury ({injury.injured_earliest})."}
        )
    days.refuse_after_death(injury, taken_on, "taken_on")


def record_reading(
    *,
    film: Film,
    values: Mapping[str, Any],
    reader: Person,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int | None = None,
    found: Sequence[Found] | None = None,
) -> Reading:
    """Save what one reader measured; an earlier reading of theirs is kept and superseded.

    `found` are its findings; left out, those of the earlier reading are kept. `expected_version` is
    that of the earlier reading that the user saw, 0 for none; left out, any may be superseded.
    Raises StaleVersion when another stands there, BadInput for millimetres on a film without
    calibration, for a comparison with the other side on a film without it, and for findings that
    cannot be or that the hardware contradicts.
    """
    earlier = next((one for one in _current(film) if one.reader_id == reader.pk), None)
    all_found = findings.settled(found, earlier)
    columns = findings.with_hardware(values, all_found)
    reading = Reading(film=film, site=film.site, reader=reader, read_on=today, **columns)
    with records.change(by=by, reason="" if earlier is None else "read again"):
        # What the film shows may be corrected at this very moment; and of two who read it at the same
        # moment one is the first and the other the second.
        _lengths_possible(_held(film), reading)
        reading.turn = len(_current(film)) + 1 if earlier is None else earlier.turn
        if earlier is not None:
            seen = earlier.version if expected_version is None else expected_version
            supersede(earlier, reading, seen=seen, by=by, now=now)
        else:
            records.create(reading, by=by, now=now)
        findings.keep(reading=reading, found=all_found, by=by, now=now)
        symptoms.heed_reading(reading=reading, by=by, now=now)
        second_readings.heed_reading(reading=reading, corrects=earlier is not None, by=by, now=now)
        notices.reading_recorded.send(sender=Reading, reading=reading, by=by, now=now)
    return reading


def _current(film: Film) -> list[Reading]:
    readings = records.under(Reading, film=film)
    return [one for one in readings if one.superseded_by_id is None]


def _held(film: Film) -> Film:
    """Return a film as it stands, held until the end of the change; nobody else knows a new one."""
    if gathering.is_new(film):
        return film
    held: Film = Film.objects.select_for_update().get(pk=film.pk)
    return held


def _lengths_possible(film: Film, reading: Reading) -> None:
    faults: dict[str, str] = {}
    if film.calibration not in CALIBRATED:
        for name in IN_MM:
            if getattr(reading, name) is not None:
                faults[name] = "This film is not calibrated: record the side-to-side ratio instead."
    if not film.shows_both_sides:
        for name in OF_BOTH_SIDES:
            if getattr(reading, name) is not None:
                faults[name] = "This film does not show the other side."
    if faults:
        raise BadInput(faults)
