"""What the follow-up does when the registry announces something: one service each."""

from datetime import date, datetime
from typing import Any

from django.dispatch import receiver

from followup.models.contacts import ContactAttempt
from followup.models.messages import Message
from followup.services import hardware, messages, planning
from registry import notices
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure


@receiver(notices.procedure_recorded, dispatch_uid="plan-recorded")
def plan_recorded(
    sender: object, procedure: Procedure, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Plan the reviews of a new operation and close what it ends."""
    planning.plan_injury(procedure=procedure, by=by, now=now, today=today)
    hardware.settle_by_procedure(procedure=procedure, by=by, now=now)


@receiver(notices.operation_date_corrected, dispatch_uid="plan-corrected")
def plan_corrected(
    sender: object, procedure: Procedure, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Move the open reviews of an operation whose date was corrected."""
    planning.plan_injury(procedure=procedure, by=by, now=now, today=today)


@receiver(notices.patient_status_changed, dispatch_uid="plan-status")
def plan_status(
    sender: object, patient: Patient, by: Person, now: datetime, today: date, **kwargs: Any
) -> None:
    """Close or reopen reviews, and stop every message at once, when a patient's status changes."""
    if patient.status != PatientStatus.ACTIVE:
        messages.stop_for_patient(
            patient_id=patient.pk, because=patient.get_status_display().lower()
        )
    for procedure in Procedure.objects.filter(injury__patient=patient).select_related(
        "injury__patient", "site"
    ):
        if patient.status == PatientStatus.ACTIVE:
            planning.reopen_after_return(procedure=procedure, by=by, now=now, today=today)
        planning.plan_reviews(procedure=procedure, by=by, now=now, today=today)


@receiver(notices.patients_merged, dispatch_uid="follow-merge")
def follow_merge(sender: object, kept: Patient, merged: Patient, **kwargs: Any) -> None:
    """Let contact attempts and messages follow the patient that was kept."""
    ContactAttempt.everything.filter(patient=merged).update(patient=kept)
    Message.objects.filter(patient=merged).update(patient=kept)
