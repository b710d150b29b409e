"""Films and what readers measure on them."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from followup import notices
from followup.models.films import CALIBRATED, Film, Reading
from followup.services import days, symptoms
from followup.services.superseding import supersede
from registry.errors import BadInput
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.services import records


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
    if film.taken_on > today:
        raise BadInput({"taken_on": f"{film.taken_on} is in the future."})
    if film.taken_on < injury.injured_earliest:
        raise BadInput(
            {"taken_on": f"{film.taken_on} is before the injury ({injury.injured_earliest})."}
        )
    days.refuse_after_death(injury, film.taken_on, "taken_on")
    return records.create(film, by=by, now=now)


def record_reading(
    *,
    film: Film,
    values: Mapping[str, Any],
    reader: Person,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int | None = None,
) -> Reading:
    """Save what one reader measured; an earlier reading of theirs is kept and superseded.

    `expected_version` is that of the earlier reading that the user saw, 0 for none; left out, any
    may be superseded. Raises StaleVersion when another stands there, BadInput for millimetres on a
    film without calibration and for a comparison with the other side on a film without it.
    """
    reading = Reading(film=film, site=film.site, reader=reader, read_on=today, **values)
    _lengths_possible(film, reading)
    current = Reading.objects.filter(film=film, reader=reader, superseded_by__isnull=True)
    earlier = current.first()
    with records.change(by=by, reason="" if earlier is None else "read again"):
        if earlier is not None:
            seen = earlier.version if expected_version is None else expected_version
            supersede(earlier, reading, seen=seen, by=by, now=now)
        else:
            records.create(reading, by=by, now=now)
        symptoms.heed_reading(reading=reading, by=by, now=now)
        notices.reading_recorded.send(sender=Reading, reading=reading, by=by, now=now)
    return reading


def _lengths_possible(film: Film, reading: Reading) -> None:
    faults: dict[str, str] = {}
    if film.calibration not in CALIBRATED:
        for name in ("ccd_injured_mm", "ccd_other_mm", "acd_injured_mm", "acd_other_mm"):
            if getattr(reading, name) is not None:
                faults[name] = "This film is not calibrated: record the side-to-side ratio instead."
    if not film.shows_both_sides:
        for name in ("ccd_other_mm", "ccd_side_ratio_pct", "acd_other_mm"):
            if getattr(reading, name) is not None:
                faults[name] = "This film does not show the other side."
    if faults:
        raise BadInput(faults)
