"""What the registry itself does when it announces something: one service each."""

from datetime import datetime
from typing import Any

from django.dispatch import receiver

from registry import notices
from registry.models.constructs import Part
from registry.models.implants import ImplantModel
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.services import notice_matching, safety_notices


@receiver(notices.row_written, sender=Part, dispatch_uid="match-part")
def match_part(sender: object, row: Part, by: Person, now: datetime, **kwargs: Any) -> None:
    """Hold a part that was recorded, corrected or voided against every notice, at once."""
    operation = row.construct.procedure_id
    notice_matching.match_operations(operations=[operation], by=by, now=now)


@receiver(notices.article_saved, dispatch_uid="match-article")
def match_article(
    sender: object, article: ImplantModel, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Hold the parts of an implant model that was added or corrected against every notice."""
    notice_matching.match_article(article=article, by=by, now=now)


@receiver(notices.procedure_recorded, dispatch_uid="notice-removal")
def follow_removal(
    sender: object, procedure: Procedure, by: Person, now: datetime, **kwargs: Any
) -> None:
    """End what is open about a construct that is taken out."""
    if procedure.kind == ProcedureKind.IMPLANT_REMOVAL:
        safety_notices.follow_removal(removal=procedure, by=by, now=now)


@receiver(notices.row_voided, sender=Procedure, dispatch_uid="notice-removal-void")
def follow_voided_removal(
    sender: object, row: Procedure, by: Person, now: datetime, **kwargs: Any
) -> None:
    """Open again what a removal had ended that is void now."""
    if row.kind == ProcedureKind.IMPLANT_REMOVAL:
        safety_notices.follow_voided_removal(removal=row, by=by, now=now)


@receiver(notices.patient_status_changed, dispatch_uid="notice-status")
def follow_status(
    sender: object, patient: Patient, by: Person, now: datetime, **kwargs: Any
) -> None:
    """End what is open about somebody who died, and open it again when that was a mistake."""
    died_on = patient.status_on if patient.status == PatientStatus.DIED else None
    safety_notices.follow_status(patient_id=patient.pk, died_on=died_on, by=by, now=now)
