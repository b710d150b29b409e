"""Our own code systems, identifiers and extensions, with the canonical addresses of this service."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, unquote

from django.conf import settings
from django.db.models import TextChoices

from registry.models.constructs import FirstScrews, Graft, GuideWire, Knot, ShorterScrew
from registry.models.implants import PartKind
from registry.models.injuries import (
    CLASS_CODES,
    EDITIONS,
    ClassSystem,
    Demand,
    DominantArm,
    Energy,
    InjuryKind,
    Mechanism,
    OtherShoulder,
    Side,
    SkinState,
    Smoking,
    SportDemand,
    YesNo,
)
from registry.models.patients import PatientStatus
from registry.models.procedures import (
    Approach,
    Grade,
    PatientPosition,
    ProcedureKind,
    ReductionQuality,
)
from registry.rules.fhir.elements import Json, coding, compact
from registry.rules.fhir.moments import instant

CONSTRUCT_TYPE = "construct-type"
IDENTIFIER, EXTENSION = "identifier", "StructureDefinition"
MASKED_SYSTEM = "http://terminology.hl7.org/CodeSystem/v3-ObservationValue"


@dataclass(frozen=True)
class LocalSystem:
    """A code system of ours: its name in the address, what it is for, its codes with their words."""

    name: str
    title: str
    concepts: Mapping[str, str]
    edition: str = ""


def _of(name: str, title: str, choices: type[TextChoices]) -> LocalSystem:
    return LocalSystem(name, title, dict(choices.choices))


def _classes(system: str, title: str) -> LocalSystem:
    codes = {code: f"{ClassSystem(system).label} {code}" for code in CLASS_CODES[system]}
    return LocalSystem(system.replace("_", "-"), title, codes, EDITIONS[system])


LOCAL_SYSTEMS: dict[str, LocalSystem] = {
    one.name: one
    for one in (
        _of("injury-kind", "What is injured", InjuryKind),
        _of("side", "Side of the body", Side),
        _of("class-system", "System of classification", ClassSystem),
        _classes("neer", "Neer class of a lateral clavicle fracture, Craig's form"),
        _classes("ao_ota", "AO/OTA class of a lateral clavicle fracture"),
        _classes("rockwood", "Rockwood class of an acromioclavicular injury"),
        _of("procedure-kind", "Kind of operation", ProcedureKind),
        _of("part-kind", "Kind of implanted part", PartKind),
        _of("patient-status", "Whether a patient is still followed", PatientStatus),
        _of("mechanism", "How it happened", Mechanism),
        _of("energy", "Energy of the injury", Energy),
        _of("skin", "Closed or open", SkinState),
        _of("dominant-arm", "Dominant arm", DominantArm),
        _of("other-shoulder", "State of the other shoulder", OtherShoulder),
        _of("smoking", "Smoking at injury", Smoking),
        _of("work-demand", "Load at work", Demand),
        _of("sport-demand", "Sport", SportDemand),
        _of("yes-no", "Yes or no", YesNo),
        _of("operator-grade", "Grade of an operator or assistant", Grade),
        _of("position", "Position on the table", PatientPosition),
        _of("approach", "Approach", Approach),
        _of("reduction-quality", "Reduction at the end of the operation", ReductionQuality),
        _of("knot", "Knot", Knot),
        _of("graft", "Graft", Graft),
        _of("first-two-screws", "Where the first two screws went", FirstScrews),
        _of("guide-wire-clear", "Guide wire clear of the joint", GuideWire),
        _of("shorter-screw-chosen", "Between two lengths of screw", ShorterScrew),
        LocalSystem(
            "intake",
            "Marks of a resource that is sent to be taken in",
            {"checked": "The unusual values were looked at and are right"},
        ),
    )
}


def canonical(kind: str, name: str) -> str:
    """Return the canonical address of something that we define."""
    return f"{settings.FHIR_BASE}/{kind}/{name}"


def system(name: str) -> str:
    """Return the address of a code system of ours."""
    return canonical("CodeSystem", name)


def extension(name: str) -> str:
    """Return the address of an extension of ours."""
    return canonical(EXTENSION, name)


def local(name: str, code: str, display: str = "", *, edition: str = "") -> Json:
    """Return a code of ours with the version of its system and its words."""
    known = LOCAL_SYSTEMS.get(name)
    words = display or (known.concepts.get(code, "") if known else "")
    version = edition or (known.edition if known else "") or settings.CODE_VERSION
    return coding(system(name), code, words, version)


def code_system(one: LocalSystem) -> Json:
    """Return a code system of ours as a resource."""
    return {
        "resourceType": "CodeSystem",
        "id": one.name,
        "url": system(one.name),
        "version": one.edition or settings.CODE_VERSION,
        "name": one.name.title().replace("-", ""),
        "title": one.title,
        "status": "active",
        "caseSensitive": True,
        "content": "complete",
        "count": len(one.concepts),
        "concept": [compact({"code": c, "display": words}) for c, words in one.concepts.items()],
    }


def number_system(site_code: str, issuing_system: str) -> str:
    """Return the address of whoever issued a number: its own, where it has one."""
    if ":" in issuing_system:
        return issuing_system
    return canonical(IDENTIFIER, f"{site_code}/{quote(issuing_system, safe='')}")


def issuing_system(site_code: str, address: str) -> str:
    """Return what we call the issuer of a number by its address."""
    ours = canonical(IDENTIFIER, f"{site_code}/")
    return unquote(address.removeprefix(ours)) if address.startswith(ours) else address


def person_system() -> str:
    """Return the address of the user names of this service."""
    return canonical(IDENTIFIER, "person")


def site_system() -> str:
    """Return the address of the codes of this service's sites."""
    return canonical(IDENTIFIER, "site")


def version_of(row: Any) -> str:
    """Return the version of a resource: its row's, and the moment when a part of it changed later."""
    updated, changed = row.updated, getattr(row, "changed_at", None)
    if changed is None or updated > changed:
        return f"{getattr(row, 'version', 1)}.{int(updated.timestamp() * 1000)}"
    return str(row.version)


def meta(row: Any, *, masked: bool = False) -> Json:
    """Return version, last change and, where names were left out, that they were."""
    security = [coding(MASKED_SYSTEM, "MASKED", "masked")] if masked else []
    return compact(
        {
            "versionId": version_of(row),
            "lastUpdated": instant(row.updated),
            "security": security,
        }
    )


def head(kind: str, key: Any, row: Any, *, masked: bool = False) -> Json:
    """Return what every resource begins with."""
    return {"resourceType": kind, "id": str(key), "meta": meta(row, masked=masked)}
