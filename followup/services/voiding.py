"""What falls together with a row of the registry that is voided or erased."""

from datetime import datetime
from typing import Any

from followup.models.calibrations import ImageCalibration
from followup.models.complications import Complication
from followup.models.contacts import ContactAttempt
from followup.models.films import Film, Reading
from followup.models.findings import ReadingFinding
from followup.models.hardware import HardwareDecision, HardwareStep
from followup.models.images import FilmImage, IncomingImage
from followup.models.letters import Letter
from followup.models.messages import Message, MessageState
from followup.models.motion import MotionExam
from followup.models.questionnaires import Answer
from followup.models.readings import WantedReading
from followup.models.reviews import Appointment, Review
from followup.models.scores import Score
from followup.models.tasks import Task
from registry.models.base import ClinicalRow
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.services import records

# Each kind of row with the way from it to the operation or the injury that it hangs on.
OF_PROCEDURE: tuple[tuple[type[ClinicalRow], str], ...] = (
    (Answer, "invitation__review__procedure"),
    (Appointment, "review__procedure"),
    (Task, "review__procedure"),
    (Letter, "review__procedure"),
    (Review, "procedure"),
    (Complication, "procedure"),
    (HardwareStep, "decision__procedure"),
    (HardwareDecision, "procedure"),
)
OF_INJURY: tuple[tuple[type[ClinicalRow], str], ...] = (
    (ReadingFinding, "reading__film__injury"),
    (Reading, "film__injury"),
    (WantedReading, "film__injury"),
    (ImageCalibration, "image__film__injury"),
    (FilmImage, "film__injury"),
    (IncomingImage, "injury"),
    (Film, "injury"),
    (MotionExam, "injury"),
    (Score, "injury"),
)


def void_of_procedure(*, procedure: Procedure, reason: str, by: Person, now: datetime) -> None:
    """Void the reviews, slots, tasks, complications and decisions of an operation; stop its messages."""
    with records.change(by=by, reason=reason):
        Message.objects.filter(review__procedure=procedure, state=MessageState.WAITING).update(
            state=MessageState.STOPPED, stopped_because="the operation was voided"
        )
        _void(OF_PROCEDURE, "", procedure, reason, by, now)


def void_of_injury(*, injury: Injury, reason: str, by: Person, now: datetime) -> None:
    """Void the films, readings, motion exams and scores of one injury."""
    _void(OF_INJURY, "", injury, reason, by, now)


def void_of_patient(*, patient: Patient, reason: str, by: Person, now: datetime) -> None:
    """Void everything that the follow-up holds of one patient."""
    with records.change(by=by, reason=reason):
        _void(OF_PROCEDURE, "__injury__patient", patient, reason, by, now)
        _void(OF_INJURY, "__patient", patient, reason, by, now)
        _void(((ContactAttempt, "patient"), (Task, "patient")), "", patient, reason, by, now)


def _void(
    kinds: tuple[tuple[type[ClinicalRow], str], ...],
    onward: str,
    owner: Any,
    reason: str,
    by: Person,
    now: datetime,
) -> None:
    for model, way in kinds:
        rows = model.everything.filter(**{f"{way}{onward}": owner})
        records.void_all(rows, by=by, now=now, reason=reason)
