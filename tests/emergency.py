"""An emergency that is over: somebody opened a patient, and nobody has looked at it yet."""

from datetime import timedelta

from registry.models import EmergencyAccess, Patient, Person
from tests.builders import NOW, TODAY


def was_opened(patient: Patient, person: Person) -> EmergencyAccess:
    """Return an access of yesterday to a patient at their own site."""
    began = NOW - timedelta(days=1)
    return EmergencyAccess.objects.create(
        person=person,
        patient=patient,
        site=patient.site,
        reason="brought in by ambulance after a fall",
        opened_at=began,
        ends_at=began + timedelta(hours=1),
        look_by=TODAY + timedelta(days=6),
    )
