"""A patient as a FHIR Patient: by name for those who may see names, else by key and marked masked."""

from collections.abc import Iterable
from typing import Any

from registry.exchange.fhir import terms
from registry.models.patients import Patient, PatientStatus
from registry.rules.dates import Bounds, written
from registry.rules.fhir.elements import MASKED, Json, absent_here, compact, reference
from registry.rules.fhir.moments import is_partial

WITHOUT_NAMES = {
    "name": [absent_here(MASKED)],
    "_birthDate": absent_here(MASKED),
    "_gender": absent_here(MASKED),
}


def patient(row: Any, *, named: bool, numbers: Iterable[Any] = ()) -> Json:
    """Return a patient; without `named`, or when the names were erased, by key alone.

    `row` has `updated`; `numbers` are the identifiers that the reader may see, with their sites.
    """
    identity = getattr(row, "identity", None) if named else None
    whole = terms.head("Patient", row.key, row, masked=identity is None)
    if identity is not None:
        whole["meta"]["versionId"] = f"{whole['meta']['versionId']}-{identity.version}"
    own = {"use": "secondary", "system": terms.canonical(terms.IDENTIFIER, "key"), "value": row.key}
    died = row.status == PatientStatus.DIED
    state = {"url": terms.extension("patient-status"), "valueCoding": _status(row)}
    return compact(
        {
            **whole,
            "extension": [state],
            "identifier": [own, *(map(_number, numbers) if identity is not None else ())],
            "active": True,
            **(WITHOUT_NAMES if identity is None else _who(identity)),
            "deceasedDateTime": row.status_on.isoformat() if died else None,
            "managingOrganization": at_site(row.site.code),
            "link": [
                {"other": reference("Patient", other.key), "type": "replaces"}
                for other in row.merged_from.all()
            ],
        }
    )


def merged(row: Patient) -> Json:
    """Return what stands under the key of a patient who was merged into another."""
    other = row.merged_into
    assert other is not None  # noqa: S101 - asked only of those who were merged
    return {
        **terms.head("Patient", row.key, row, masked=True),
        **WITHOUT_NAMES,
        "active": False,
        "link": [{"other": reference("Patient", other.key), "type": "replaced-by"}],
    }


def at_site(code: str) -> Json:
    """Return a reference to a site by its code."""
    return {"identifier": {"system": terms.site_system(), "value": code}}


def _status(row: Any) -> Json:
    return terms.local("patient-status", row.status)


def _number(one: Any) -> Json:
    system = terms.number_system(one.site.code, one.issuing_system)
    return {"use": "usual", "system": system, "value": one.value}


def _who(identity: Any) -> Json:
    birth = Bounds(identity.birth_earliest, identity.birth_latest)
    telecom = [
        {"system": system, "value": value}
        for system, value in (("phone", identity.phone), ("email", identity.email))
        if value
    ]
    name = compact(
        {
            "use": "official",
            "family": identity.family_name,
            "given": identity.given_name.split(),
        }
    )
    born: Json = {"birthDate": written(birth)} if is_partial(birth) else {}
    if not born:
        born = {"_birthDate": absent_here("unknown")}
    return {
        "name": [name],
        "telecom": telecom,
        "gender": identity.sex,
        **born,
        "address": [{"text": identity.address}] if identity.address else [],
        "communication": [
            {
                "language": {"coding": [{"system": "urn:ietf:bcp:47", "code": identity.language}]},
                "preferred": True,
            }
        ],
    }
