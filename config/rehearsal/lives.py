"""What the patients of the rehearsal do, and what that makes the hospital record."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from analytics.simulation import people
from analytics.simulation.draws import Draws
from analytics.simulation.habits import Habits
from config.rehearsal.stage import Stage
from registry.models import ConstructType, Patient, Procedure
from registry.models.identities import Identity
from registry.models.patients import PatientStatus
from registry.models.procedures import ProcedureKind
from registry.services import enrolment, patients

LIFE = 3
STATUS = {
    "died": PatientStatus.DIED,
    "withdrawn": PatientStatus.WITHDRAWN,
    "moved": PatientStatus.MOVED,
    "moved_and_back": PatientStatus.MOVED,
}


@dataclass
class Life:
    """One patient: how they are, a random stream for the moment, and their rows once enrolled."""

    habits: Habits
    draws: Draws
    patient: Patient | None = None
    index: Procedure | None = None
    tried_on: dict[int, date] = field(default_factory=dict)
    wrong_number: bool = False

    @property
    def is_here(self) -> bool:
        """Whether the patient is enrolled and in follow-up, as the hospital knows it."""
        return self.patient is not None and self.patient.status == PatientStatus.ACTIVE


def enrol(life: Life, stage: Stage, *, operated_on: date, now: datetime, today: date) -> None:
    """Record the patient, the injury and the operation, as after theatre."""
    one, by = life.habits, stage.coordinator
    who = people.identity(Draws(one.number, one.number), one.number, operated_on)
    if one.refuses_email:
        who["refused_means"] = [*who["refused_means"], "email"]
    life.patient = enrolment.enrol_patient(
        site=stage.site,
        identity=who,
        identifiers=[
            enrolment.IdentifierGiven(enrolment.HOSPITAL_NUMBER, f"RH{one.number:05d}"),
        ],
        consents=[enrolment.ConsentGiven("contact", "given", operated_on, "verbal")],
        by=by,
        now=now,
        today=today,
    )
    injury = enrolment.record_injury(
        patient=life.patient,
        site=stage.site,
        values={
            "side": "left" if one.number % 2 else "right",
            "injured_earliest": operated_on - timedelta(days=6),
            "injured_latest": operated_on - timedelta(days=6),
            "other_shoulder": "uninjured",
        },
        classes={"neer": "IIB"},
        by=by,
        now=now,
        today=today,
    )
    life.index = enrolment.record_procedure(
        injury=injury,
        values={"kind": "fixation", "performed_on": operated_on, "surgeon": stage.surgeon},
        construct={"construct_type": _construct_type(one.construct_type)},
        by=by,
        now=now,
        today=today,
    )


def events(life: Life, stage: Stage, *, day: int, now: datetime, today: date) -> str:
    """Let happen what this day holds for a patient; return it in a word, '' for nothing."""
    one = life.habits
    if day not in (one.new_phone_day, one.leaves_day, one.back_day, one.revised_day):
        return ""
    if life.patient is not None:
        life.patient.refresh_from_db()
    if day == one.new_phone_day:
        # The hospital finds out only when it rings.
        life.wrong_number = True
        return "changed number"
    if life.is_here and day == one.leaves_day:
        _change(life, stage, STATUS[one.leaving], now, today)
        return one.leaving.partition("_")[0]
    if day == one.back_day and life.patient is not None:
        _change(life, stage, PatientStatus.ACTIVE, now, today)
        return "came back"
    if day == one.revised_day and life.is_here and _still_in(life):
        revise(life, stage, now=now, today=today)
        return "revised"
    return ""


def revise(life: Life, stage: Stage, *, now: datetime, today: date) -> None:
    """Record a revision fixation of today, which starts a schedule of its own."""
    assert life.index is not None  # noqa: S101 - nobody is revised before being operated on
    enrolment.record_procedure(
        injury=life.index.injury,
        values={
            "kind": ProcedureKind.REVISION_FIXATION,
            "performed_on": today,
            "surgeon": stage.surgeon,
            "revises": life.index,
        },
        construct={"construct_type": _construct_type("LP+A2")},
        by=stage.surgeon,
        now=now,
        today=today,
    )


def tell_number(life: Life, stage: Stage, *, now: datetime, today: date) -> None:
    """Correct the telephone number, once somebody has told the new one."""
    identity = Identity.objects.get(patient=life.patient)
    patients.correct_identity(
        identity=identity,
        values={"phone": f"0000 999 {life.habits.number:04d}", "contact_checked_on": today},
        expected_version=identity.version,
        by=stage.coordinator,
        now=now,
        today=today,
    )
    life.wrong_number = False


def _still_in(life: Life) -> bool:
    return not Procedure.objects.filter(revises=life.index).exists()


def _change(life: Life, stage: Stage, status: str, now: datetime, today: date) -> None:
    assert life.patient is not None  # noqa: S101 - nobody leaves before being enrolled
    life.patient.refresh_from_db()
    patients.change_status(
        patient=life.patient,
        status=status,
        on=None if status == PatientStatus.ACTIVE else today,
        note="rehearsed",
        expected_version=life.patient.version,
        by=stage.coordinator,
        now=now,
        today=today,
    )


def _construct_type(code: str) -> Any:
    return ConstructType.objects.get(code=code)
