"""Days on which nothing can have been found."""

from datetime import date

from registry.errors import BadInput
from registry.models.injuries import Injury
from registry.models.patients import PatientStatus


def refuse_after_death(injury: Injury, on: date, field: str) -> None:
    """Refuse what a patient would have had to live for.

    Raises BadInput naming the field when the patient had died before that day.
    """
    patient = injury.patient
    if (
        patient.status == PatientStatus.DIED
        and patient.status_on is not None
        and on > patient.status_on
    ):
        raise BadInput(
            {
                field: f"{on} is after the patient's death ({patient.status_on}); correct one of them."
            }
        )
