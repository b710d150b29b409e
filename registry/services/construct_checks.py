"""Applying the construct checks to what was recorded, and keeping the departures."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from registry.models.constructs import Construct, ConstructDeparture, Part
from registry.models.implants import ImplantModel
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.rules.construct_checks import CheckResult, ConstructFacts, Verdict, evaluate
from registry.rules.part_counts import WORDS, Disagreement, Piece, counted, disagreements
from registry.services import records

YES_NO = {"yes": True, "no": False}
# The counts of the checks that the parts stand in for where nothing was typed.
STAND_IN = ("lateral_screw_count", "anchor_count", "retainer_count")


def facts_of(
    construct: Construct, procedure: Procedure, pieces: Iterable[Piece] = ()
) -> ConstructFacts:
    """Return what the checks need to know of a construct, saved or not yet saved.

    A count that was not typed is that of the parts.
    """
    typed = _typed_facts(construct, procedure)
    found = counted(pieces)
    standing: dict[str, Any] = {
        name: found[name] for name in STAND_IN if name in found and getattr(typed, name) is None
    }
    return replace(typed, **standing)


def pieces_of(parts: Iterable[Part]) -> list[Piece]:
    """Return what parts are and bring, with their articles at hand."""
    return [piece(part.implant_model, part.quantity) for part in parts if part.voided_at is None]


def piece(model: ImplantModel, quantity: int) -> Piece:
    """Return what so many of an article bring to a construct."""
    diameter = model.screw_diameter_mm
    return Piece(
        model.kind, quantity, model.plate_holes, None if diameter is None else float(diameter)
    )


def disagreements_of(construct: Construct, pieces: Iterable[Piece]) -> tuple[Disagreement, ...]:
    """Return the counts of a construct that its parts do not bear out."""
    return disagreements_for({name: getattr(construct, name) for name in WORDS}, pieces)


def disagreements_for(
    values: Mapping[str, Any], pieces: Iterable[Piece]
) -> tuple[Disagreement, ...]:
    """Return the same of a construct that is still being typed."""
    typed = {name: None if (said := values.get(name)) is None else int(said) for name in WORDS}
    return disagreements(typed, pieces)


def _typed_facts(construct: Construct, procedure: Procedure) -> ConstructFacts:
    kind = construct.construct_type

    def length(value: object) -> float | None:
        return None if value is None else float(str(value))

    return ConstructFacts(
        family=kind.family,
        uses_small_lateral_screws=kind.uses_small_lateral_screws,
        lateral_screw_count=construct.lateral_screw_count,
        lateral_screw_diameter_mm=length(construct.lateral_screw_diameter_mm),
        lateral_drill_mm=length(construct.lateral_drill_mm),
        lateral_screws_locking=YES_NO.get(construct.lateral_screws_locking),
        shaft_screw_diameter_mm=length(construct.shaft_screw_diameter_mm),
        shaft_drill_mm=length(construct.shaft_drill_mm),
        anchor_count=construct.anchor_count,
        free_slots_count=construct.free_slots_count,
        retainer_count=construct.retainer_count,
        knot=construct.knot,
        half_hitch_count=construct.half_hitch_count,
        first_two_screws=construct.first_two_screws,
        guide_wire_clear=construct.guide_wire_clear,
        shorter_screw_chosen=construct.shorter_screw_chosen,
        intraoperative_film=YES_NO.get(procedure.intraoperative_film),
    )


def results_of(
    construct: Construct, procedure: Procedure, pieces: Iterable[Piece] = ()
) -> tuple[CheckResult, ...]:
    """Return every check's verdict on a construct with its parts."""
    return evaluate(facts_of(construct, procedure, pieces))


def results_for(
    values: Mapping[str, Any], procedure: Procedure, pieces: Iterable[Piece] = ()
) -> tuple[CheckResult, ...]:
    """Return every check's verdict on a construct that is still being typed; none without its type."""
    if values.get("construct_type") is None:
        return ()
    return results_of(Construct(**values), procedure, pieces)


def note_departures(
    *, construct: Construct, reasons: Mapping[str, str], by: Person, now: datetime
) -> list[ConstructDeparture]:
    """Keep one row for each check that is not met; void those that no longer hold.

    A reason not given is kept as empty and asked for again. Doing it twice changes nothing.
    """
    parts = records.under(Part, "implant_model", construct=construct)
    departed = {
        result.id: result
        for result in results_of(construct, construct.procedure, pieces_of(parts))
        if result.verdict == Verdict.DEPARTURE
    }
    kept = {row.check_id: row for row in records.under(ConstructDeparture, construct=construct)}
    with records.change(by=by):
        given = {check_id: row.reason for check_id, row in kept.items()}
        for check_id, row in list(kept.items()):
            if check_id in departed and departed[check_id].version == row.check_version:
                continue
            why = "the check has a new version" if check_id in departed else "no longer departs"
            records.void(row, by=by, now=now, expected_version=row.version, reason=why)
            del kept[check_id]
        return [
            _keep(
                construct,
                kept.get(check_id),
                result,
                reasons.get(check_id, "").strip() or given.get(check_id, ""),
                by,
                now,
            )
            for check_id, result in departed.items()
        ]


def _keep(
    construct: Construct,
    row: ConstructDeparture | None,
    result: CheckResult,
    reason: str,
    by: Person,
    now: datetime,
) -> ConstructDeparture:
    if row is None:
        new = ConstructDeparture(
            construct=construct,
            site=construct.site,
            check_id=result.id,
            check_version=result.version,
            found=result.found,
            reason=reason[:300],
        )
        return records.create(new, by=by, now=now)
    wanted = {"found": result.found, "reason": reason[:300]}
    if (row.found, row.reason) == (wanted["found"], wanted["reason"]):
        return row
    return records.save(row, wanted, by=by, now=now, expected_version=row.version)
