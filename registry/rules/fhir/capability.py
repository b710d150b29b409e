"""The CapabilityStatement: what a server can do, worked out from what it does."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from registry.rules.fhir.elements import Json, compact

VERSION = "4.0.1"
SYSTEM_EXPORT = "http://hl7.org/fhir/uv/bulkdata/OperationDefinition/export"
PATIENT_EXPORT = "http://hl7.org/fhir/uv/bulkdata/OperationDefinition/patient-export"


@dataclass(frozen=True)
class Offered:
    """One type of resource: how it is searched, and whether a transaction may bring it."""

    kind: str
    params: Mapping[str, str]
    taken_in: bool
    note: str = ""


def statement(base: str, canonical: str, offers: Sequence[Offered], date: str) -> Json:
    """Return the CapabilityStatement of a server at `base`."""
    rest = {
        "mode": "server",
        "security": {
            "cors": False,
            "description": "A person's token of this service; rows of the person's sites alone.",
        },
        "resource": [_resource(one) for one in offers],
        "interaction": [{"code": "transaction"}],
        "operation": [{"name": "export", "definition": SYSTEM_EXPORT}],
    }
    return {
        "resourceType": "CapabilityStatement",
        "id": "holdfast",
        "url": f"{canonical}/CapabilityStatement/holdfast",
        "name": "Holdfast",
        "status": "active",
        "date": date,
        "kind": "instance",
        "software": {"name": "Holdfast"},
        "implementation": {
            "description": "Outcomes and follow-up registry of a shoulder-trauma service",
            "url": base,
        },
        "fhirVersion": VERSION,
        "format": ["application/fhir+json"],
        "rest": [rest],
    }


def _resource(offer: Offered) -> Json:
    interactions = ["read", "search-type"]
    export = [{"name": "export", "definition": PATIENT_EXPORT}] if offer.kind == "Patient" else []
    return compact(
        {
            "type": offer.kind,
            "documentation": offer.note,
            "interaction": [{"code": code} for code in interactions],
            "versioning": "versioned",
            "readHistory": False,
            "conditionalCreate": offer.taken_in,
            "referencePolicy": ["literal", "local"],
            "searchParam": [{"name": name, "type": kind} for name, kind in offer.params.items()],
            "operation": export,
        }
    )
