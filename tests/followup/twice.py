"""Films that are read by several readers under a site's policy."""

from datetime import date
from typing import Any

from followup.models import Film, Reading, ReadingPolicy
from followup.services import films
from registry.models import Injury, Person, Site
from tests import builders
from tests.builders import NOW, TODAY


def policy(at: Site | None = None, **values: Any) -> ReadingPolicy:
    """Set a site's policy, by default that every film is read twice."""
    site = at or builders.site()
    row, _ = ReadingPolicy.objects.update_or_create(site=site, defaults={"draw": "all", **values})
    return row


def film(of: Injury | None = None, day: date = TODAY, **values: Any) -> Film:
    """Return a calibrated film of both sides."""
    hurt = of or builders.procedure().injury
    given = {
        "taken_on": day,
        "view": "zanca",
        "calibration": "marker",
        "shows_both_sides": True,
        **values,
    }
    return films.record_film(injury=hurt, values=given, by=hurt.recorded_by, now=NOW, today=TODAY)


def read(
    shown: Film, by: Person, injured: Any = "10.0", other: Any = "10.0", **given: Any
) -> Reading:
    """Let somebody read a film, blind unless it is said otherwise."""
    values = {"ccd_injured_mm": injured, "ccd_other_mm": other, "blind": True, **given}
    return films.record_reading(film=shown, values=values, reader=by, by=by, now=NOW, today=TODAY)


def readers(number: int = 3, role: str = "film_reader") -> list[Person]:
    """Return so many readers of the northern site."""
    return [builders.person(f"reader_{at}", north=role) for at in range(1, number + 1)]
