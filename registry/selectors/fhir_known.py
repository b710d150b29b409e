"""What of a FHIR transaction is here already: by number, by reference, or alike."""

from collections.abc import Mapping, Sequence
from typing import Any

from registry.models.base import ClinicalRow
from registry.models.constructs import Part
from registry.models.foreign_numbers import ForeignNumber
from registry.models.identities import Identifier
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.selectors.patients import Candidate, candidates
from registry.selectors.visible import Viewer, visible

Number = tuple[str, str]
MODELS: dict[str, tuple[type[ClinicalRow], str]] = {
    "Condition": (Injury, "injury"),
    "Procedure": (Procedure, "procedure"),
    "Device": (Part, "part"),
}


def patients_numbered(site: Site, numbers: Sequence[Number]) -> list[Patient]:
    """Return the patients whom a site knows by any of some numbers, given as issuer and value."""
    found: dict[int, Patient] = {}
    for system, value in numbers:
        rows = Identifier.objects.filter(
            site=site, issuing_system=system, value=value
        ).select_related("patient")
        found.update({row.patient_id: row.patient for row in rows})
    return list(found.values())


def row_numbered(site: Site, kind: str, numbers: Sequence[Number]) -> Any:
    """Return the injury, operation or part that another system knows by any of some numbers, or None.

    One that was voided is returned as well: it does not come back by being sent again.
    """
    model, column = MODELS[kind]
    for system, value in numbers:
        found = ForeignNumber.objects.filter(
            site=site, system=system, value=value, **{f"{column}__isnull": False}
        ).first()
        if found is not None:
            return model.everything.get(pk=getattr(found, f"{column}_id"))
    return None


def referred(user: Viewer, site: Site, kind: str, reference: str, number: Number | None) -> Any:
    """Return the row that a reference outside a transaction leads to, of those that a person enrols.

    It is relative to this server; `number` is that of a conditional one, with the issuer as the site
    calls it. None where there is no such row.
    """
    if number is not None:
        found = (
            next(iter(patients_numbered(site, [number])), None)
            if kind == "Patient"
            else row_numbered(site, kind, [number])
        )
        return found if found is not None and _theirs(user, found) else None
    of, _, key = reference.rpartition("/")
    if of != kind:
        return None
    if kind == "Patient":
        return visible(user, Patient, "enrol").filter(key=key).first()
    if not (key.isascii() and key.isdigit() and len(key) <= 18):
        return None
    return visible(user, MODELS[kind][0], "enrol").filter(pk=int(key)).first()


def alike(
    user: Viewer,
    identity: Mapping[str, Any],
    numbers: Sequence[Number],
    leave_out: Sequence[Patient],
) -> list[Candidate]:
    """Return patients who may be the one who came, but for those said to be somebody else."""
    born = dates.Bounds(identity["birth_earliest"], identity["birth_latest"])
    given = matching.Person(
        family_name=identity["family_name"],
        given_name=identity["given_name"],
        birth_date=born.earliest if born.exact else None,
        sex=identity["sex"],
        phone=identity.get("phone", ""),
    )
    others = {one.pk for one in leave_out}
    found = candidates(user, given, [value for _, value in numbers])
    return [one for one in found if one.patient.pk not in others]


def age_at(patient: Patient, hurt_latest: Any) -> dict[str, int]:
    """Return the age at an injury as limits judge it; {} where it is not known."""
    identity = getattr(patient, "identity", None)
    if identity is None or hurt_latest < identity.birth_earliest:
        return {}
    born = dates.Bounds(identity.birth_earliest, identity.birth_latest)
    return {"age_years": dates.age_on(born, hurt_latest)}


def delay(injury: Injury, values: Mapping[str, Any]) -> dict[str, int]:
    """Return the days from injury to a first fixation as limits judge them; {} for any other."""
    on = values["performed_on"]
    if values["kind"] != ProcedureKind.FIXATION or on < injury.injured_earliest:
        return {}
    return {"days_from_injury": max(0, (on - injury.injured_latest).days)}


def _theirs(user: Viewer, row: Any) -> bool:
    return visible(user, type(row), "enrol").filter(pk=row.pk).exists()
