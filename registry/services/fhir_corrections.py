"""Correcting by FHIR what is here already: the services of the forms, over the version that was seen."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from registry.errors import BadInput
from registry.exchange.fhir.procedures import construct_of
from registry.models.injuries import Classification
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.services import injuries, patients, procedures

REASON = "corrected by FHIR"
STAYS = "This stays as it was recorded; void it here where it is wrong."
# What is said once and stays: another kind or side is another row.
FIXED = {"Condition": ("side",), "Procedure": ("kind", "revises")}
# What a part says by its article; one that has an identifier is described in the list's own words.
OF_ARTICLE = ("kind", "description", "catalogue_number", "device_identifier")
IN_WORDS = OF_ARTICLE[:3]


# Of what comes with a resource and stands beside its row here: classes, and what was implanted.
CLASS, CONSTRUCT = "class", "construct"
# The day of a death is taken in after everything else, by its own service.
DIED_ON = "died_on"


def beside(what: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """Name values as those of a class or a construct, so that they are compared where they stand."""
    return {f"{what}.{name}": value for name, value in values.items()}


def differing(kind: str, row: Any, values: Mapping[str, Any]) -> list[str]:
    """Return the columns in which what came differs from what stands; what was not said does not."""
    listed = IN_WORDS if kind == "Device" and values.get("device_identifier") else ()
    return [
        name
        for name, value in values.items()
        if name not in listed
        and value not in (None, "", {})
        and _standing(kind, row, name) != value
    ]


def correct(
    *,
    kind: str,
    row: Any,
    values: Mapping[str, Any],
    by: Person,
    now: datetime,
    today: date,
) -> None:
    """Correct some columns of a row.

    Raises BadInput for what stays as it was recorded or cannot be, StaleVersion.
    """
    fixed = [name for name in FIXED.get(kind, ()) if name in values]
    apart = [name for name in values if "." in name]
    if fixed or apart or kind == "Device":
        refused = fixed if fixed or apart else values
        raise BadInput(
            {
                **dict.fromkeys(refused, STAYS),
                **dict.fromkeys(
                    apart, "This is not corrected by FHIR; correct it on its page here."
                ),
            }
        )
    at: dict[str, Any] = {"by": by, "now": now, "today": today}
    if kind == "Patient":
        identity = row.identity
        told = {name: value for name, value in values.items() if name != DIED_ON}
        if told:
            patients.correct_identity(
                identity=identity, values=told, expected_version=identity.version, **at
            )
    elif kind == "Condition":
        injuries.correct_injury(
            injury=row, values=values, expected_version=row.version, reason=REASON, **at
        )
    else:
        procedures.correct_procedure(
            procedure=row, values=values, expected_version=row.version, reason=REASON, **at
        )


def _standing(kind: str, row: Any, name: str) -> Any:
    if kind == "Patient" and name == DIED_ON:
        return row.status_on if row.status == PatientStatus.DIED else None
    if kind == "Patient":
        return getattr(getattr(row, "identity", None), name, None)
    if kind == "Device" and name in OF_ARTICLE:
        return getattr(row.implant_model, name)
    what, apart, column = name.partition(".")
    if apart:
        return _beside(row, what, column)
    return getattr(row, name)


def _beside(row: Any, what: str, column: str) -> Any:
    if what == CLASS:
        given = Classification.objects.filter(injury=row, system=column, superseded=False)
        return given.values_list("code", flat=True).first()
    built = construct_of(row)
    if built is not None and column == "construct_type":
        return built.construct_type.code
    return getattr(built, column, None)
