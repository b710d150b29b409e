"""Bodies of a transaction as a hospital sends it; shapes after HL7 FHIR R4, codes ours, people invented."""

from copy import deepcopy
from typing import Any

BASE = "https://registry.example"
HOSPITAL = "urn:oid:1.2.3.4"
Json = dict[str, Any]


def ours(name: str, code: str) -> Json:
    """Return a concept with a code of ours."""
    return {"coding": [{"system": f"{BASE}/CodeSystem/{name}", "code": code}]}


def number(value: str) -> list[Json]:
    """Return the number by which the hospital knows something."""
    return [{"system": HOSPITAL, "value": value}]


PATIENT: Json = {
    "resourceType": "Patient",
    "identifier": number("P-1"),
    "name": [{"use": "official", "family": "Ferncastle", "given": ["Mary", "Ann"]}],
    "gender": "female",
    "birthDate": "1975-08",
    "telecom": [{"system": "phone", "value": "0555 010 9813"}],
}
CONDITION: Json = {
    "resourceType": "Condition",
    "identifier": number("C-1"),
    "verificationStatus": {
        "coding": [
            {
                "system": "http://terminology.hl7.org/CodeSystem/condition-ver-status",
                "code": "confirmed",
            }
        ]
    },
    "code": ours("injury-kind", "lateral_clavicle"),
    "bodySite": [ours("side", "left")],
    "subject": {"reference": "urn:uuid:patient"},
    "onsetDateTime": "2026-02-27",
    "stage": [{"summary": ours("neer", "IIB"), "type": ours("class-system", "neer")}],
}
PROCEDURE: Json = {
    "resourceType": "Procedure",
    "identifier": number("O-1"),
    "status": "completed",
    "code": ours("procedure-kind", "fixation"),
    "subject": {"reference": "urn:uuid:patient"},
    "performedDateTime": "2026-03-02",
    "reasonReference": [{"reference": "urn:uuid:injury"}],
    "bodySite": [ours("side", "left")],
    "usedCode": [ours("construct-type", "LP")],
    "focalDevice": [
        {
            "action": {
                "coding": [{"system": "http://hl7.org/fhir/device-action", "code": "implanted"}]
            },
            "manipulated": {"reference": "urn:uuid:part"},
        }
    ],
}
DEVICE: Json = {
    "resourceType": "Device",
    "identifier": number("D-1"),
    "status": "active",
    "type": ours("part-kind", "plate"),
    "deviceName": [{"name": "locking plate, six holes", "type": "user-friendly-name"}],
    "lotNumber": "LOT42A",
    "serialNumber": "SN0042",
    "expirationDate": "2027-01-31",
    "patient": {"reference": "urn:uuid:patient"},
    "udiCarrier": [
        {
            "deviceIdentifier": "09506000134352",
            "issuer": "http://hl7.org/fhir/NamingSystem/gs1",
            "carrierHRF": "(01)09506000134352(17)270131(10)LOT42A(21)SN0042",
            "entryType": "barcode",
        }
    ],
}
URLS = {"Patient": "patient", "Condition": "injury", "Procedure": "operation", "Device": "part"}


def entry(resource: Json, url: str = "", **request: str) -> Json:
    """Return an entry that creates a resource unless it is there."""
    kind = resource["resourceType"]
    known = resource.get("identifier", [{}])[0]
    condition = f"identifier={known.get('system')}|{known.get('value')}"
    given = {"method": "POST", "url": kind, "ifNoneExist": condition, **request}
    if given["method"] == "PUT":
        given.pop("ifNoneExist")
        given["url"] = f"{kind}?{condition}"
    return {
        "fullUrl": f"urn:uuid:{url or URLS[kind]}",
        "resource": deepcopy(resource),
        "request": given,
    }


def transaction(*resources: Json, **changes: Json) -> Json:
    """Return a transaction; `changes` are laid over the elements of a type, None takes one away."""
    chosen = resources or (PATIENT, CONDITION, PROCEDURE, DEVICE)
    entries = []
    for one in chosen:
        changed = {**deepcopy(one), **changes.get(one["resourceType"].lower(), {})}
        entries.append(entry({name: value for name, value in changed.items() if value is not None}))
    return {"resourceType": "Bundle", "type": "transaction", "entry": entries}
