"""Keeping a patient as it is while something is added to it: nobody merges, voids or erases it meanwhile.

A merge and an erasure take what hangs on a patient at one moment. What somebody else adds and commits
after that would stay on the entry that was merged away, or bring a name back to one that was erased.
"""

from datetime import datetime

from django.db.models import QuerySet

from registry.errors import BadInput
from registry.models.patients import Patient
from registry.services import gathering


def hold(patient: Patient) -> None:
    """Hold a patient's row until the transaction of the caller ends.

    Raises BadInput where it was merged into another, or voided, since it was read.
    """
    if not gathering.is_new(patient):
        gathering.once(("held patient", patient.pk), lambda: _held(patient))


def hold_whatever(patient: Patient) -> None:
    """Hold a patient's row as `hold` does, also where it was merged or voided: an erasure asks for no more."""
    list(_rows(patient))


def hold_named(patient: Patient) -> None:
    """Hold a patient's row, to add what names the person.

    Raises BadInput as `hold` does, and where the identity was erased since.
    """
    hold(patient)
    named = Patient.everything.filter(pk=patient.pk, identity__isnull=False)
    if not gathering.is_new(patient) and not named.exists():
        raise BadInput(f"The identity of {patient} was erased; nothing can be added to it.")


def _held(patient: Patient) -> bool:
    merged_into, voided_at = _rows(patient).get()
    if merged_into is not None:
        kept = Patient.everything.get(pk=merged_into)
        raise BadInput(f"{patient} was merged into {kept}; open the one that was kept.")
    if voided_at is not None:
        raise BadInput(f"{patient} was voided; nothing can be added to it.")
    return True


def _rows(patient: Patient) -> "QuerySet[Patient, tuple[int | None, datetime | None]]":
    rows = Patient.everything.select_for_update(no_key=True).filter(pk=patient.pk)
    return rows.values_list("merged_into_id", "voided_at")
