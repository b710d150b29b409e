"""Moving what was entered on the wrong patient or side, with everything on it, and back exactly."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db.models import Q

from registry import notices
from registry.errors import BadInput, IllegalTransition
from registry.models.identities import Identity
from registry.models.injuries import Injury, Side
from registry.models.moves import MoveKind, RecordMove
from registry.models.patients import Patient, PatientSite
from registry.models.people import Person
from registry.services import operation_moves, records
from registry.services.enrolment import age_at, injury_possible
from registry.services.moved_rows import Act, announce, both_active, mark_undone, reason_of

OTHER = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT}


def move_to_patient(
    *,
    injury: Injury,
    to: Patient,
    reason: str,
    expected_version: int,
    to_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> RecordMove:
    """Give an injury with everything on it to the patient whose it is.

    Age and sex at the injury follow. Raises BadInput without a reason, where either follow-up has
    ended, the injury cannot have been theirs, or something of it is under way; StaleVersion.
    """
    came_from = injury.patient
    act = Act(by, now, today, reason_of(reason))
    both_active(came_from, to)
    if came_from.pk == to.pk:
        raise BadInput("The injury is this patient's already.")
    before = {"age_years": injury.age_years, "sex": injury.sex}
    known = _dates_of(injury, came_from)
    with records.change(by=by, reason=f"moved to another patient: {act.reason}"):
        _touch(to, to_version, act)
        _touch(came_from, came_from.version, act)
        _give(injury, to, _of_identity(injury, to, today), expected_version, act)
        place, is_new = PatientSite.objects.get_or_create(patient=to, site=injury.site)
        moved: dict[str, Any] = {"before": before, "dates": known}
        moved["patient_site"] = place.pk if is_new else None
        moved |= announce(
            notices.injury_moved, Injury, injury=injury, came_from=came_from, to=to, act=act
        )
        return _note(MoveKind.PATIENT, injury, came_from, to, moved, act)


def change_side(
    *,
    injury: Injury,
    with_motion: bool,
    reason: str,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> RecordMove:
    """Say that the injury is of the other side. What is said of 'injured' and 'other' stays true.

    With `with_motion`, exams of either side change places: they were recorded as of the injured or
    the other one. Without it they stand as of the side that they name. Raises BadInput without a reason
    or where two exams would be of one side, StaleVersion.
    """
    act = Act(by, now, today, reason_of(reason))
    with records.change(by=by, reason=f"the side was wrong: {act.reason}"):
        _turn(injury, expected_version, act)
        moved = announce(
            notices.injury_side_changed,
            Injury,
            injury=injury,
            rows=None if with_motion else {},
            act=act,
        )
        return _note(MoveKind.SIDE, injury, injury.patient, injury.patient, moved, act)


def undo(*, move: RecordMove, by: Person, now: datetime, today: date) -> None:
    """Put back exactly what a move took; what was recorded since stays on the injury.

    Raises IllegalTransition when it is undone already, followed by a later one, or one of the patients
    was merged or erased since; BadInput where a follow-up has ended since.
    """
    act = Act(by, now, today)
    _undoable(move)
    with records.change(by=by, reason="move undone"):
        mark_undone(move, what="This move", by=by, now=now)
        if move.kind == MoveKind.OPERATION:
            operation_moves.put_operation_back(move, act)
        elif move.kind == MoveKind.PATIENT:
            _back_to_patient(move, act)
        else:
            _back_to_side(move, act)
    move.refresh_from_db()


def _back_to_patient(move: RecordMove, act: Act) -> None:
    injury, back = move.injury, move.from_patient
    both_active(injury.patient, back)
    _touch(back, back.version, act)
    _touch(move.to_patient, move.to_patient.version, act)
    before = dict(move.moved["before"])
    follows = _of_identity(injury, back, act.today)
    # What is said of birth, injury and sex now, where that is something else than when the injury went.
    known = _dates_of(injury, back)
    same = follows["sex"] == before["sex"] and move.moved.get("dates", known) == known
    values = before if same else follows
    _give(injury, back, values, injury.version, act)
    notices.injury_moved_back.send(
        sender=Injury,
        injury=injury,
        came_from=move.to_patient,
        to=back,
        moved=move.moved,
        **act.who,
    )
    made = move.moved.get("patient_site")
    still = Injury.everything.filter(patient=move.to_patient, site_id=injury.site_id)
    if made is not None and not still.exists():
        PatientSite.objects.filter(pk=made).delete()


def _back_to_side(move: RecordMove, act: Act) -> None:
    injury = move.injury
    _turn(injury, injury.version, act)
    announce(notices.injury_side_changed, Injury, injury=injury, rows=move.moved, act=act)


def _of_identity(injury: Injury, patient: Patient, today: date) -> dict[str, Any]:
    """Return age and sex of a patient at an injury, after asking whether it can be theirs."""
    identity = Identity.objects.filter(patient=patient).first()
    injury_possible(injury, identity, today)
    if identity is None:
        raise BadInput(f"{patient} has no identity any more.")
    return {"age_years": age_at(identity, injury), "sex": identity.sex}


def _dates_of(injury: Injury, patient: Patient) -> list[str]:
    """Return by which dates the age at an injury is told."""
    identity = Identity.objects.filter(patient=patient).first()
    return [str(identity.birth_latest if identity else ""), str(injury.injured_latest)]


def _give(injury: Injury, to: Patient, values: Mapping[str, Any], version: int, act: Act) -> None:
    values = {"patient": to, **values}
    records.save(injury, values, by=act.by, now=act.now, expected_version=version)


def _turn(injury: Injury, version: int, act: Act) -> None:
    values = {"side": OTHER[Side(injury.side)]}
    records.save(injury, values, by=act.by, now=act.now, expected_version=version)


def _touch(patient: Patient, version: int, act: Act) -> None:
    records.save(patient, {}, by=act.by, now=act.now, expected_version=version)


def _note(
    kind: MoveKind,
    injury: Injury,
    came_from: Patient,
    to: Patient,
    moved: dict[str, Any],
    act: Act,
) -> RecordMove:
    return RecordMove.objects.create(
        kind=kind,
        injury=injury,
        from_patient=came_from,
        to_patient=to,
        moved_at=act.now,
        moved_by=act.by,
        reason=act.reason,
        moved=moved,
    )


def _undoable(move: RecordMove) -> None:
    if move.undone_at is not None:
        raise IllegalTransition("This move", present="undone", wanted="undone")
    touched = [one for one in (move.injury_id, move.to_injury_id) if one is not None]
    later = RecordMove.objects.filter(
        Q(injury__in=touched) | Q(to_injury__in=touched), pk__gt=move.pk, undone_at__isnull=True
    )
    if later.exists():
        present = "followed by a later one, undo that first"
        raise IllegalTransition("This move", present=present, wanted="undone")
    if move.kind != MoveKind.OPERATION and move.injury.patient_id != move.to_patient_id:
        present = "followed by a merge of the patient, undo that first"
        raise IllegalTransition("This move", present=present, wanted="undone")
    both = {move.from_patient_id, move.to_patient_id}
    if Identity.objects.filter(patient__in=both).count() < len(both):
        raise IllegalTransition("This move", present="of somebody erased", wanted="undone")
