"""An operation as a FHIR Procedure, with what it left in place or took out."""

from typing import Any

from registry.exchange.fhir import facts, terms
from registry.exchange.fhir.injuries import body_site, foreign_numbers
from registry.models.procedures import ProcedureKind
from registry.rules.fhir.elements import Json, coding, compact, concept, named, reference

DEVICE_ACTION = "http://hl7.org/fhir/device-action"


def procedure(row: Any, *, by_name: bool) -> Json:
    """Return an operation; `by_name` lets people of the service and free text be said."""
    built = construct_of(row)
    return compact(
        {
            **terms.head("Procedure", row.pk, row),
            "extension": [
                *facts.written("procedure-facts", facts.PROCEDURE, row),
                *(facts.written("construct-facts", facts.CONSTRUCT, built) if built else ()),
            ],
            "identifier": foreign_numbers(row) if by_name else [],
            "partOf": [reference("Procedure", row.revises_id)] if row.revises_id else [],
            "status": "completed" if row.voided_at is None else "entered-in-error",
            "code": concept(terms.local("procedure-kind", row.kind), text=row.get_kind_display()),
            "subject": reference("Patient", row.injury.patient.key),
            "performedDateTime": row.performed_on.isoformat(),
            "performer": _performer(row) if by_name else [],
            "reasonReference": [reference("Condition", row.injury_id)],
            "bodySite": [body_site(row.injury.side)],
            "note": [{"text": row.note}] if row.note and by_name else [],
            "focalDevice": _devices(row),
            "usedCode": [used(built.construct_type)] if built else [],
        }
    )


def construct_of(row: Any) -> Any:
    """Return what an operation left in place, None where that is not known or was voided."""
    built = getattr(row, "construct", None)
    return built if built is not None and built.voided_at is None else None


def used(kind: Any) -> Json:
    """Return the construct type as the item that was used."""
    return concept(terms.local(terms.CONSTRUCT_TYPE, kind.code, kind.name))


def _performer(row: Any) -> list[Json]:
    if row.surgeon is None:
        return []
    return [{"actor": named(terms.person_system(), row.surgeon.username)}]


def _devices(row: Any) -> list[Json]:
    built = construct_of(row)
    own = list(built.parts.all()) if built else []
    found = [_device(part, "implanted") for part in own]
    if row.kind == ProcedureKind.IMPLANT_REMOVAL and row.revises is not None:
        before = construct_of(row.revises)
        found += [_device(part, "explanted") for part in (before.parts.all() if before else ())]
    return found


def _device(part: Any, act: str) -> Json:
    return {
        "action": concept(coding(DEVICE_ACTION, act)),
        "manipulated": reference("Device", part.pk),
    }
