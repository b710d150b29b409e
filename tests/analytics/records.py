"""Rows of a followed operation, saved by the services as the pages do."""

from datetime import date, timedelta
from typing import Any

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.models import EndpointChoice
from analytics.services.definitions import choose_definition
from followup.models import Film, Reading
from followup.services import complications, films
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

OPERATED = date(2025, 6, 5)


def calls_its_own(site: str = "north", definition: str = "rise-3mm") -> None:
    """Let a site choose its primary definition of an endpoint, unless it has one."""
    place, endpoint = builders.site(site), DEFINITIONS[definition].endpoint
    if not EndpointChoice.objects.filter(site=place, endpoint=endpoint).exists():
        choose_definition(site=place, definition_id=definition, on=TODAY, by=None)


def operation(site: str = "north", construct: str = "LP", **values: Any) -> Procedure:
    """Return an index procedure of June 2025, at a site that calls a definition of loss its own."""
    calls_its_own(site)
    patient = builders.patient(at=builders.site(site))
    hurt = builders.injury(
        patient,
        injured_earliest=date(2025, 6, 1),
        injured_latest=date(2025, 6, 1),
        **values.pop("injury", {}),
    )
    return builders.procedure(hurt, {"construct_type": construct}, performed_on=OPERATED, **values)


def reading(of: Procedure, day: int, injured: str | None = None, **values: Any) -> Reading:
    """Save a film of an operated shoulder so many days after the operation, and its reading."""
    by = of.recorded_by
    film: Film = films.record_film(
        injury=of.injury,
        values={
            "taken_on": of.performed_on + timedelta(days=day),
            "view": "zanca",
            "posture": "upright",
            "calibration": "marker",
            "shows_both_sides": True,
            **values.pop("film", {}),
        },
        by=by,
        now=NOW,
        today=TODAY,
    )
    found = values.pop("found", None)
    return films.record_reading(
        film=film,
        values={"ccd_injured_mm": injured, **values},
        found=found,
        reader=by,
        by=by,
        now=NOW,
        today=TODAY,
    )


def complication(of: Procedure, day: int, kind: str = "nerve", **values: Any) -> None:
    """Save a complication that came to light so many days after an operation."""
    complications.record_complication(
        procedure=of,
        values={
            "kind": kind,
            "detected_on": of.performed_on + timedelta(days=day),
            "grade": "I",
            **values,
        },
        by=of.recorded_by,
        now=NOW,
        today=TODAY,
    )


def held(site: str = "north", construct: str = "LP") -> Procedure:
    """Return an operation whose reduction held for a year."""
    done = operation(site, construct)
    reading(done, 2, "9.0")
    reading(done, 365, "9.4")
    return done


def lost(site: str = "north", construct: str = "LP") -> Procedure:
    """Return an operation whose reduction was lost at three months."""
    done = operation(site, construct)
    reading(done, 2, "9.0")
    reading(done, 90, "14.0")
    return done
