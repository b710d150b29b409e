"""The lines of a trace: whose part it is, where it is by now, and when they were last heard of."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from followup.selectors.last_contact import LastContact, last_contacts
from registry.models.identities import Identity
from registry.models.patients import Patient
from registry.models.procedures import Procedure
from registry.rules.trace_grades import GRADES, grade
from registry.selectors.trace import PLACES, in_detail, removals_of
from registry.selectors.visible import Viewer, site_ids

AT_ONCE = 2000
HEADER = (
    *("patient", "name", "site", "operated_on", "side", "construct", "part", "quantity"),
    *("device_identifier", "catalogue_number", "batch", "batch_not_obtainable", "serial"),
    *("expires_on", "trace_grade", "where", "removed_on", "patient_status", "status_on"),
    *("last_contact_on", "last_contact"),
)


@dataclass(frozen=True)
class Line:
    """One part of the answer, in words."""

    part: Any
    patient: Patient
    name: str
    may_open: bool
    operation: Procedure
    grade: str
    where: str
    removal: Procedure | None
    last: LastContact | None


def names_of(user: Viewer, patients: Collection[tuple[int, int]]) -> dict[int, str]:
    """Return the names of patients at the sites where a person may see names.

    `patients` are pairs of a patient's key in the database and the site of the row that is shown.
    """
    allowed = set(site_ids(user, "see_identity"))
    theirs = {patient for patient, site in patients if site in allowed}
    rows = Identity.objects.filter(patient__in=theirs)
    return {row.patient_id: str(row) for row in rows}


def lines_of(user: Viewer, parts: Sequence[Any]) -> list[Line]:
    """Return the lines of some parts that came with their details."""
    pairs = [(_patient(part).pk, part.site_id) for part in parts]
    names = names_of(user, pairs)
    seen_at = set(site_ids(user, "see_patient"))
    removals = removals_of(parts)
    contacts = last_contacts({patient for patient, _ in pairs}, site_ids(user, "trace"))
    return [_line(part, names, seen_at, removals, contacts) for part in parts]


def _patient(part: Any) -> Patient:
    found: Patient = part.construct.procedure.injury.patient
    return found


def _line(
    part: Any,
    names: dict[int, str],
    seen_at: set[int],
    removals: dict[int, Procedure],
    contacts: dict[int, LastContact],
) -> Line:
    patient, article = _patient(part), part.implant_model
    traced = grade(
        device_identifier=article.device_identifier,
        catalogue_number=article.catalogue_number,
        batch=part.batch,
        serial=part.serial,
    )
    named = part.site_id in seen_at
    return Line(
        part=part,
        patient=patient,
        name=names.get(patient.pk, "") if named else "",
        may_open=named,
        operation=part.construct.procedure,
        grade=GRADES[traced],
        where=PLACES[part.place],
        removal=removals.get(part.construct.procedure_id),
        last=contacts.get(patient.pk),
    )


def table(user: Viewer, rows: Any) -> Iterator[tuple[object, ...]]:
    """Yield the whole answer as rows of a table, some at a time, however long it is."""
    begun = in_detail(rows)
    batch: list[Any] = []
    for part in begun.iterator(chunk_size=AT_ONCE):
        batch.append(part)
        if len(batch) == AT_ONCE:
            yield from map(_cells, lines_of(user, batch))
            batch = []
    yield from map(_cells, lines_of(user, batch))


def _cells(line: Line) -> tuple[object, ...]:
    part, article, operation = line.part, line.part.implant_model, line.operation
    return (
        line.patient.key,
        line.name,
        part.site.code,
        operation.performed_on,
        operation.injury.get_side_display().lower(),
        str(part.construct.construct_type),
        article.description,
        part.quantity,
        article.device_identifier,
        article.catalogue_number,
        part.batch,
        "yes" if part.batch_not_obtainable else "no",
        part.serial,
        part.expires_on,
        line.grade,
        line.where,
        line.removal.performed_on if line.removal else None,
        line.patient.get_status_display().lower(),
        line.patient.status_on,
        line.last.on if line.last else None,
        line.last.how if line.last else "",
    )
