"""The data types of FHIR as plain dictionaries: codings, references, quantities, what is absent.

R4 4.0.1, datatypes and the code system data-absent-reason (from memory, held to a model library by
the tests).
"""

from typing import Any

Json = dict[str, Any]
UCUM = "http://unitsofmeasure.org"
TERMINOLOGY = "http://terminology.hl7.org/CodeSystem"
ABSENT_SYSTEM = f"{TERMINOLOGY}/data-absent-reason"
ABSENT_EXTENSION = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
MASKED = "masked"
# Our kinds of missing, and what a patient would not say, by their code there.
ABSENT = {
    "unknown": "unknown",
    "not_done": "not-performed",
    "not_applicable": "not-applicable",
    "declined": "asked-declined",
}
ABSENT_WORDS = {
    "unknown": "Unknown",
    "not-performed": "Not performed",
    "not-applicable": "Not applicable",
    "asked-declined": "Asked but declined",
    MASKED: "Masked",
}


def compact(given: Json) -> Json:
    """Leave out what is empty: FHIR has no empty strings, lists or nulls. A zero and a 'no' stay."""
    return {name: value for name, value in given.items() if value not in (None, "", [], {}, ())}


def coding(system: str, code: str, display: str = "", version: str = "") -> Json:
    """Return one code of a system."""
    return compact({"system": system, "version": version, "code": code, "display": display})


def concept(*codings: Json, text: str = "") -> Json:
    """Return a concept by its codes and words."""
    return compact({"coding": list(codings), "text": text})


def reference(kind: str, key: Any) -> Json:
    """Return a reference to a resource of this server."""
    return {"reference": f"{kind}/{key}"}


def named(system: str, value: str) -> Json:
    """Return a reference to something that is no resource here, by its identifier."""
    return {"identifier": {"system": system, "value": value}}


def quantity(value: Any, unit: str) -> Json:
    """Return a number with its unit, which is also its UCUM code."""
    return {"value": float(value), "unit": unit, "system": UCUM, "code": unit}


def absent(code: str, text: str = "") -> Json:
    """Return why there is no value, as a concept; `code` is one of data-absent-reason."""
    return concept(coding(ABSENT_SYSTEM, code, ABSENT_WORDS[code]), text=text)


def absent_here(code: str) -> Json:
    """Return an element that has no value, only the reason: for '_birthDate' and its like."""
    return {"extension": [{"url": ABSENT_EXTENSION, "valueCode": code}]}


def absent_code(element: Any) -> str:
    """Return the reason that stands in an element without a value, '' where there is none."""
    for one in (element or {}).get("extension", ()):
        if one.get("url") == ABSENT_EXTENSION:
            return str(one.get("valueCode", ""))
    return ""
