"""What was found in a reading, what a reader is asked for on a film, and a site's rule of union."""

from typing import Any

from django.db.models import Prefetch

from followup.models.films import Film, Reading
from followup.models.findings import UnionRule
from followup.rules import findings, reading_words
from followup.rules.findings import Found, Offer
from registry.models.injuries import InjuryKind
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site

IMPLANTING = (ProcedureKind.FIXATION, ProcedureKind.REVISION_FIXATION)


def found_in(reading: Reading) -> tuple[Found, ...]:
    """Return the findings of a reading; no query where they were fetched with it."""
    rows: Any = reading
    return tuple(row.found for row in rows.findings.all())


def current_readings() -> "Prefetch[Any]":
    """Return what fetches the current readings of films, with all that putting them in words needs."""
    rows = Reading.objects.filter(superseded_by__isnull=True)
    return Prefetch(
        "readings",
        queryset=rows.select_related("reader", "calibration_used").prefetch_related("findings"),
    )


def lines_of(film: Film) -> tuple[str, ...]:
    """Return a film's current readings in words, a line each, with whose it is.

    No query where the film was fetched with its readings and its site's rule of union.
    """
    rows: Any = film
    least = union_rule_of(film.site).min_bridged_cortices
    return tuple(
        ", ".join(
            [
                *reading_words.told(reading, found_in(reading), least_cortices=least),
                f"read by {reading.reader}",
            ]
        )
        for reading in rows.readings.all()
    )


def offered_on(film: Film, *, blind: bool) -> Offer:
    """Return the findings that a reader is asked for on a film.

    Who measures blind is offered every kind alike: which ones fit would tell the construct. For the
    others those stand apart that what was in the shoulder on that day cannot show.
    """
    if blind:
        return findings.offered_blind()
    operations = Procedure.objects.filter(
        injury_id=film.injury_id, performed_on__lte=film.taken_on
    ).select_related("construct__construct_type")
    fixed = operations.filter(kind__in=IMPLANTING).order_by("performed_on", "id").last()
    if fixed is None:
        return findings.offered(())
    taken_out = operations.filter(revises=fixed, kind=ProcedureKind.IMPLANT_REMOVAL).exists()
    return findings.offered(_parts(fixed), hardware_in=not taken_out)


def counts_cortices(film: Film, *, blind: bool) -> bool:
    """Say whether bridging is asked for at once: for a fracture, and of everybody who reads blind."""
    return blind or film.injury.kind == InjuryKind.LATERAL_CLAVICLE


def union_rule_of(site: Site) -> UnionRule:
    """Return a site's rule of union, or the shipped one."""
    found: UnionRule | None = getattr(site, "union_rule", None)
    return found or UnionRule(site=site)


def _parts(fixed: Any) -> frozenset[str]:
    construct = getattr(fixed, "construct", None)
    if construct is None:
        return findings.PARTS
    return findings.parts_of(
        construct.construct_type.family,
        plate_holes=construct.plate_holes,
        anchors=construct.anchor_count,
        buttons=construct.button_count,
    )
