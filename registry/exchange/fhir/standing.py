"""A row as the resource that it stands as now, for whoever wrote it."""

from collections.abc import Callable
from typing import Any

from registry.exchange.fhir.devices import device
from registry.exchange.fhir.injuries import condition
from registry.exchange.fhir.patients import patient
from registry.exchange.fhir.procedures import procedure
from registry.rules.fhir.elements import Json
from registry.selectors import fhir_rows
from registry.selectors.visible import Viewer

ROWS: dict[str, Callable[..., Any]] = {
    "Patient": fhir_rows.patients,
    "Condition": fhir_rows.injuries,
    "Procedure": fhir_rows.procedures,
    "Device": fhir_rows.parts,
}


def resource_of(kind: str, row: Any, user: Viewer) -> Json:
    """Return the resource of a row as a person sees it.

    Raises DoesNotExist for a row that the person does not see.
    """
    seer = fhir_rows.reader(user)
    seen = ROWS[kind](seer).get(pk=row.pk)
    if kind == "Patient":
        return patient(seen, named=bool(seen.named_at), numbers=seen.numbers_seen)
    named = seen.site_id in seer.names
    if kind == "Condition":
        return condition(seen, named=named)
    if kind == "Procedure":
        return procedure(seen, by_name=named)
    return device(seen, named=named)


def version_of(kind: str, row: Any, user: Viewer) -> str:
    """Return the version of a row's resource, as an entity tag has it."""
    return str(resource_of(kind, row, user)["meta"]["versionId"])
