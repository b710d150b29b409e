"""Taking a wrong row of the registry out of every count, with what falls together with it."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from registry import notices
from registry.errors import BadInput
from registry.models.base import ClinicalRow
from registry.models.constructs import Construct, ConstructDeparture, Part
from registry.models.injuries import Classification, Injury
from registry.models.patients import Consent, ConsentPurpose, Patient
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.safety_notices import NoticeCarrier
from registry.services import construct_checks, patients, records


def void_row(
    *, row: ClinicalRow, reason: str, expected_version: int, by: Person, now: datetime
) -> None:
    """Void a row with its reason, and what cannot stand without it; nothing is deleted.

    Raises BadInput without a reason or while something of its own weight hangs on the row (an
    injury's operation, an operation's revision), StaleVersion when it was changed meanwhile.
    """
    standing = STANDING.get(type(row))
    if standing is not None and (left := standing(row)):
        raise BadInput(f"{left[0].upper()}{left[1:]} still stands on this; void that first.")
    with records.change(by=by, reason=reason):
        records.void(row, by=by, now=now, expected_version=expected_version, reason=reason)
        falling = FALLING.get(type(row))
        for rows in falling(row) if falling else ():
            records.void_all(rows, by=by, now=now, reason=reason)
        if isinstance(row, Part):
            # What the parts stood in for may not hold without this one.
            construct_checks.note_departures(construct=row.construct, reasons={}, by=by, now=now)
        if isinstance(row, Consent) and row.purpose == ConsentPurpose.REGISTRY:
            patients.follow_choice(
                patient=row.patient, goes_on=False, by=by, now=now, today=now.date()
            )
        notices.row_voided.send(sender=type(row), row=row, reason=reason, by=by, now=now)


def void_all_of(*, patient: Patient, reason: str, by: Person, now: datetime) -> int:
    """Void every clinical row that the registry holds of a patient; return how many."""
    ways: tuple[tuple[type[ClinicalRow], str], ...] = (
        (NoticeCarrier, "procedure__injury__patient"),
        (Part, "construct__procedure__injury__patient"),
        (ConstructDeparture, "construct__procedure__injury__patient"),
        (Construct, "procedure__injury__patient"),
        (Procedure, "injury__patient"),
        (Classification, "injury__patient"),
        (Injury, "patient"),
        (Consent, "patient"),
        (Patient, "pk"),
    )
    with records.change(by=by, reason=reason):
        return sum(
            records.void_all(
                model.everything.filter(**{way: patient.pk}), by=by, now=now, reason=reason
            )
            for model, way in ways
        )


def _on_patient(row: Any) -> str:
    injury = Injury.objects.filter(patient=row).first()
    return f"an injury ({injury})" if injury else ""


def _on_injury(row: Any) -> str:
    procedure = Procedure.objects.filter(injury=row).first()
    return f"an operation ({procedure})" if procedure else ""


def _on_procedure(row: Any) -> str:
    later = Procedure.objects.filter(revises=row).first()
    return f"a later operation ({later})" if later else ""


def _with_procedure(row: Any) -> list[QuerySet[Any]]:
    return [
        Part.everything.filter(construct__procedure=row),
        ConstructDeparture.everything.filter(construct__procedure=row),
        NoticeCarrier.everything.filter(procedure=row),
        Construct.everything.filter(procedure=row),
    ]


STANDING: dict[type[ClinicalRow], Callable[[Any], str]] = {
    Patient: _on_patient,
    Injury: _on_injury,
    Procedure: _on_procedure,
}
FALLING: dict[type[ClinicalRow], Callable[[Any], list[QuerySet[Any]]]] = {
    Patient: lambda row: [Consent.everything.filter(patient=row)],
    Injury: lambda row: [Classification.everything.filter(injury=row)],
    Procedure: _with_procedure,
}
