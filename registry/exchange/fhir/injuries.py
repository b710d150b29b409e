"""An injury as a FHIR Condition, with its classes as stages."""

from typing import Any

from registry.exchange.fhir import facts, terms
from registry.rules.fhir.elements import TERMINOLOGY, Json, coding, compact, concept, reference
from registry.rules.fhir.moments import instant, span

SIDE_WORDS = {"left": "Left shoulder", "right": "Right shoulder"}
VERIFICATION = f"{TERMINOLOGY}/condition-ver-status"


def condition(row: Any, *, named: bool) -> Json:
    """Return an injury; one that was voided says so, and its facts stay readable."""
    verified = "confirmed" if row.voided_at is None else "entered-in-error"
    return compact(
        {
            **terms.head("Condition", row.pk, row),
            "extension": [
                *facts.written("injury-facts", facts.INJURY, row),
                *facts.written("at-injury", facts.AT_INJURY, row),
            ],
            "identifier": foreign_numbers(row) if named else [],
            "verificationStatus": concept(coding(VERIFICATION, verified)),
            "code": concept(terms.local("injury-kind", row.kind), text=row.get_kind_display()),
            "bodySite": [body_site(row.side)],
            "subject": reference("Patient", row.patient.key),
            **span("onset", row.injured_earliest, row.injured_latest),
            "recordedDate": instant(row.recorded_at),
            "stage": [stage(one) for one in row.classes_now],
        }
    )


def body_site(side: str) -> Json:
    """Return the injured or examined side, in words and by code."""
    return concept(terms.local("side", side), text=SIDE_WORDS[side])


def stage(one: Any) -> Json:
    """Return a class with its system and edition."""
    name = one.system.replace("_", "-")
    return {
        "summary": concept(terms.local(name, one.code, edition=one.edition), text=str(one)),
        "type": concept(terms.local("class-system", one.system)),
    }


def foreign_numbers(row: Any) -> list[Json]:
    """Return by which numbers other systems know a row."""
    return [{"system": one.system, "value": one.value} for one in row.foreign_numbers.all()]
