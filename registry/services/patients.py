"""What happens to a patient as a whole: dying, withdrawing, moving away, returning."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from registry import notices
from registry.errors import BadInput, StaleVersion
from registry.models.identities import Identity
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.services import records
from registry.services.enrolment import save_identity


def change_status(
    *,
    patient: Patient,
    status: str,
    on: date | None,
    note: str,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Patient:
    """Record that a patient died, withdrew, moved away or is back, and announce it.

    Raises BadInput without a date (unless active) or with one in the future, StaleVersion.
    """
    if status == PatientStatus.ACTIVE:
        on = None
    elif on is None:
        raise BadInput({"status_on": "Give the date on which this happened."})
    elif on > today:
        raise BadInput({"status_on": f"{on} is in the future."})
    with records.change(by=by, reason=note):
        records.save(
            patient,
            {"status": status, "status_on": on, "status_note": note},
            by=by,
            now=now,
            expected_version=expected_version,
            reason=note,
        )
        notices.patient_status_changed.send(
            sender=Patient, patient=patient, by=by, now=now, today=today
        )
    return patient


def correct_identity(
    *, identity: Identity, values: Mapping[str, Any], expected_version: int, by: Person
) -> Identity:
    """Correct names, birth date or contacts over the version that the user saw.

    Raises StaleVersion when somebody changed them first.
    """
    with records.change(by=by):
        taken = Identity.objects.filter(pk=identity.pk, version=expected_version).update(
            version=expected_version + 1
        )
        if not taken:
            current = Identity.objects.values_list("version", flat=True).get(pk=identity.pk)
            raise StaleVersion("The identity", expected=expected_version, current=current)
        identity.version = expected_version + 1
        return save_identity(identity, values)
