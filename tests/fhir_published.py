"""HL7's published example resources, as far as their pages were read, and what was added to each.

The model library brings no examples. The pages (those of 4.0.1 were not all to be had, so some are of
the releases on either side of it, with the same values):

- Patient/example: hl7.org/fhir/2018Sep/patient-example.json.html, hl7.org/fhir/R4/person-example.json.html
- Condition/example: hl7.org/fhir/2021May/condition-example.json
- Procedure/example-implant: hl7.org/fhir/2020Feb/procedure-example-implant.json.html
- Device/example-udi1: hl7.org/fhir/2022Sep/device-example-udi1.html
- Device/udi-1 of US Core, which is of R4: hl7.org/fhir/us/core/2021Jan/Device-udi-1.json.html

Left out: narratives, Patient.contact, contained resources.
"""

from typing import Any

from tests.fhir_bodies import BASE, Json, number, ours

SERVER = "http://hl7.org/fhir"
TERMS = "http://terminology.hl7.org/CodeSystem"
SNOMED = "http://snomed.info/sct"
PATIENT: Json = {
    "resourceType": "Patient",
    "id": "example",
    "identifier": [
        {
            "use": "usual",
            "type": {"coding": [{"system": f"{TERMS}/v2-0203", "code": "MR"}]},
            "system": "urn:oid:1.2.36.146.595.217.0.1",
            "value": "12345",
            "period": {"start": "2001-05-06"},
            "assigner": {"display": "Acme Healthcare"},
        }
    ],
    "active": True,
    "name": [
        {"use": "official", "family": "Chalmers", "given": ["Peter", "James"]},
        {"use": "usual", "given": ["Jim"]},
        {"use": "maiden", "family": "Windsor", "given": ["Peter", "James"]},
    ],
    "telecom": [
        {"use": "home"},
        {"system": "phone", "value": "(03) 5555 6473", "use": "work"},
        {"system": "phone", "value": "(03) 3410 5613", "use": "mobile"},
        {"system": "phone", "value": "(03) 5555 8834", "use": "old"},
    ],
    "gender": "male",
    "birthDate": "1974-12-25",
    "deceasedBoolean": False,
    "managingOrganization": {"reference": "Organization/1"},
}
CONDITION: Json = {
    "resourceType": "Condition",
    "id": "example",
    "clinicalStatus": {"coding": [{"system": f"{TERMS}/condition-clinical", "code": "active"}]},
    "verificationStatus": {
        "coding": [{"system": f"{TERMS}/condition-ver-status", "code": "confirmed"}]
    },
    "category": [
        {"coding": [{"system": f"{TERMS}/condition-category", "code": "encounter-diagnosis"}]}
    ],
    "severity": {"coding": [{"system": SNOMED, "code": "24484000", "display": "Severe"}]},
    "code": {
        "coding": [{"system": SNOMED, "code": "39065001", "display": "Burn of ear"}],
        "text": "Burnt Ear",
    },
    "bodySite": [{"coding": [{"system": SNOMED, "code": "49521004"}], "text": "Left Ear"}],
    "subject": {"reference": "Patient/example"},
    "onsetDateTime": "2012-05-24",
}
PROCEDURE: Json = {
    "resourceType": "Procedure",
    "id": "example-implant",
    "status": "completed",
    "code": {"coding": [{"system": SNOMED, "code": "25267002"}], "text": "Implant Pacemaker"},
    "subject": {"reference": "Patient/example"},
    "performedDateTime": "2015-04-05",
    "performer": [{"actor": {"reference": "Practitioner/example", "display": "Dr Cecil Surgeon"}}],
    "reasonCode": [{"text": "Bradycardia"}],
    "followUp": [{"text": "ROS 5 days  - 2013-04-10"}],
    "note": [{"text": "Routine Appendectomy. Appendix was inflamed and in retro-caecal position"}],
    "focalDevice": [
        {
            "action": {
                "coding": [{"system": "http://hl7.org/fhir/device-action", "code": "implanted"}]
            },
            "manipulated": {"reference": "Device/udi-1"},
        }
    ],
}
DEVICE: Json = {
    "resourceType": "Device",
    "id": "udi-1",
    "udiCarrier": [
        {
            "deviceIdentifier": "09504000059118",
            "carrierHRF": "(01)09504000059118(17)141120(10)7654321D(21)10987654d321",
        }
    ],
    "status": "active",
    "expirationDate": "2014-11-20",
    "lotNumber": "7654321D",
    "serialNumber": "10987654d321",
    "type": {
        "coding": [{"system": SNOMED, "code": "468063009"}],
        "text": "Coated femoral stem prosthesis, modular",
    },
    "patient": {"reference": "Patient/example"},
}
# The carrier of Device/example-udi1: its two texts are of two devices.
TWO_DEVICES: Json = {
    "deviceIdentifier": "00844588003288",
    "issuer": f"{SERVER}/NamingSystem/gs1",
    "jurisdiction": f"{SERVER}/NamingSystem/fda-udi",
    "carrierAIDC": (
        "XWQyMDExMDg1NzY3NDAwMjAxNzE3MTQxMTIwMTBOWUZVTDAx4oaUMjExOTI4MzfihpQ3MTNBMUIyQzNENEU1RjZH"
    ),
    "carrierHRF": "{01}00844588003288{17}141120{10}7654321D{21}10987654d321",
    "entryType": "barcode",
}


def with_ours(concept: Json, name: str, code: str) -> Json:
    """Return a published concept with a code of ours before its own."""
    return {**concept, "coding": [*ours(name, code)["coding"], *concept["coding"]]}


def completed() -> list[Json]:
    """Return the examples with the few elements added that are needed here.

    A number for each, our codes beside their own, the injury and the construct of the operation, what
    the device is in words and who issued its identifier; and that the years between were looked at.
    """
    looked_at = {"tag": [{"system": f"{BASE}/CodeSystem/intake", "code": "checked"}]}
    reason = [{"reference": "Condition/example"}]
    site = with_ours(CONDITION["bodySite"][0], "side", "left")
    injury: dict[str, Any] = {
        "identifier": number("C-1"),
        "code": with_ours(CONDITION["code"], "injury-kind", "lateral_clavicle"),
        "bodySite": [site],
    }
    operation: dict[str, Any] = {
        "identifier": number("O-1"),
        "meta": looked_at,
        "code": with_ours(PROCEDURE["code"], "procedure-kind", "fixation"),
        "reasonReference": reason,
        "usedCode": [ours("construct-type", "LP")],
    }
    carrier = {**DEVICE["udiCarrier"][0], "issuer": f"{SERVER}/NamingSystem/gs1"}
    part: dict[str, Any] = {
        "identifier": number("D-1"),
        "type": with_ours(DEVICE["type"], "part-kind", "plate"),
        "deviceName": [{"name": "locking plate", "type": "user-friendly-name"}],
        "udiCarrier": [carrier],
    }
    return [
        PATIENT,
        {**CONDITION, **injury},
        {**PROCEDURE, **operation},
        {**DEVICE, **part},
    ]


def bundle(resources: list[Json]) -> Json:
    """Return a transaction in which each has the address under which HL7 published it."""
    entries = [
        {
            "fullUrl": f"{SERVER}/{one['resourceType']}/{one['id']}",
            "resource": one,
            "request": {"method": "POST", "url": one["resourceType"]},
        }
        for one in resources
    ]
    return {"resourceType": "Bundle", "type": "transaction", "entry": entries}
