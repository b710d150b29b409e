"""Moving one operation that was entered on the wrong injury, with what belongs to it, and back.

To the operation belong what it implanted and what links to it; of what was found on the injury, that
which whoever keeps it says (`Along`). What revises the operation goes with it.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError

from registry import notices
from registry.errors import BadInput, IllegalTransition
from registry.models.injuries import Injury
from registry.models.moves import MoveKind, RecordMove
from registry.models.patients import Patient, PatientSite
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.operation_moves import chain_of
from registry.services import enrolment, records
from registry.services.moved_rows import (
    Act,
    Along,
    Watch,
    announce,
    both_active,
    put_back,
    reason_of,
)


def move_operation(
    *,
    procedure: Procedure,
    to: Injury,
    along: Along,
    revises: Procedure | None = None,
    side_confirmed: bool = False,
    reason: str,
    expected_version: int,
    to_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> RecordMove:
    """Give an operation, and what revises it, to the injury that it was of; schedules follow.

    `revises` is what it revises there, where it revises an operation that stays. Raises BadInput
    without a reason, where it cannot have been of that injury, the sides differ and nobody confirmed
    it, or something of it is under way; StaleVersion.
    """
    act = Act(by, now, today, reason_of(reason))
    with records.change(by=by, reason=f"operation moved to another injury: {act.reason}"):
        return _move(
            procedure, to, along, revises, side_confirmed, expected_version, to_version, act
        )


def move_to_new_injury(
    *,
    procedure: Procedure,
    patient: Patient,
    values: Mapping[str, Any],
    along: Along,
    side_confirmed: bool = False,
    reason: str,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> RecordMove:
    """Record the injury that an operation was of, and give the operation to it.

    `values` are kind, side and date (its bounds) of the injury. Raises as `move_operation` does.
    """
    act = Act(by, now, today, reason_of(reason))
    _one_of(patient)
    known_there = PatientSite.objects.filter(patient=patient, site=procedure.site).exists()
    with records.change(by=by, reason=f"operation moved to another injury: {act.reason}"):
        made = enrolment.record_injury(
            patient=patient, site=procedure.site, values=values, classes={}, **act.who
        )
        move = _move(procedure, made, along, None, side_confirmed, expected_version, 1, act)
        move.moved |= {"made": made.pk, "known_there": known_there}
        move.save(update_fields=["moved"])
    return move


def put_operation_back(move: RecordMove, act: Act) -> None:
    """Give an operation back to the injury that it was taken from; called by `moves.undo`.

    Raises BadInput where it cannot stand there any more, or something was built on it since.
    """
    procedure, back = move.procedure, move.injury
    here = move.to_injury
    if procedure is None or here is None:
        raise BadInput("This is no move of an operation.")
    _still_there(procedure, here, back, move)
    both_active(here.patient, back.patient)
    chain = chain_of(procedure)
    moved = move.moved["operations"]
    _nothing_since(chain, moved, back)
    for injury in (here, back):
        records.save(injury, {}, by=act.by, now=act.now, expected_version=injury.version)
    try:
        put_back([Procedure], moved, by=act.by, now=act.now)
        # What was recorded since, and is void, stays with what it revises.
        Procedure.everything.filter(pk__in=[one.pk for one in chain], injury=here).update(
            injury=back
        )
        _all_possible(chain_of(_again(procedure)), act.today)
        about = {"came_from": here, "to": back, "moved": move.moved}
        procedures = [one.pk for one in chain]
        announce(notices.operation_moved_back, Procedure, act=act, procedures=procedures, **about)
    except IntegrityError as fault:
        raise BadInput(
            "Something stands there by now that it would be a second one of: "
            f"{records.refusal_of(fault)}."
        ) from fault
    if move.moved.get("made"):
        _void_made(here, act)
        if not move.moved["known_there"] and not Injury.objects.filter(pk=here.pk).exists():
            PatientSite.objects.filter(patient=here.patient, site=here.site).delete()


def _move(
    procedure: Procedure,
    to: Injury,
    along: Along,
    revises: Procedure | None,
    side_confirmed: bool,
    expected_version: int,
    to_version: int,
    act: Act,
) -> RecordMove:
    came_from = Injury.everything.select_related("patient").get(pk=procedure.injury_id)
    chain = chain_of(procedure)
    both_active(came_from.patient, to.patient)
    _one_of(to.patient)
    _may_go(procedure, chain, to, side_confirmed)
    revised = _revised_there(procedure, to, revises)
    for injury, version in ((to, to_version), (came_from, came_from.version)):
        records.save(injury, {}, by=act.by, now=act.now, expected_version=version)
    watch = Watch(Procedure.everything.filter(pk__in=[one.pk for one in chain]))
    _give(procedure, chain, to, revised, expected_version, act)
    _all_possible(chain_of(_again(procedure)), act.today)
    moved: dict[str, Any] = {"operations": watch.found()}
    moved |= announce(
        notices.operation_moved,
        Procedure,
        act=act,
        procedures=[one.pk for one in chain],
        came_from=came_from,
        to=to,
        along=along,
    )
    return RecordMove.objects.create(
        kind=MoveKind.OPERATION,
        injury=came_from,
        procedure=procedure,
        to_injury=to,
        from_patient=came_from.patient,
        to_patient=to.patient,
        moved_at=act.now,
        moved_by=act.by,
        reason=act.reason,
        moved=moved,
    )


def _give(
    procedure: Procedure,
    chain: Sequence[Procedure],
    to: Injury,
    revised: Procedure | None,
    version: int,
    act: Act,
) -> None:
    """Hand over the operation by the version that was seen, and what revises it by its own."""
    for one in chain:
        values: dict[str, Any] = {"injury": to}
        if one.pk == procedure.pk:
            values["revises"] = revised
            records.save(one, values, by=act.by, now=act.now, expected_version=version)
        elif one.voided_at is None:
            records.save(one, values, by=act.by, now=act.now, expected_version=one.version)
        else:
            Procedure.everything.filter(pk=one.pk).update(injury=to)


def _may_go(
    procedure: Procedure, chain: Sequence[Procedure], to: Injury, side_confirmed: bool
) -> None:
    came_from = procedure.injury
    if to.pk == came_from.pk:
        raise BadInput("The operation is on this injury already.")
    if to.voided_at is not None:
        raise BadInput("That injury is void; choose one that stands.")
    if to.site_id != procedure.site_id:
        raise BadInput(
            f"That injury is followed at {to.site} and the operation was done at {procedure.site}; "
            "give it an injury at its own site."
        )
    fixed = any(one.is_index and one.voided_at is None for one in chain)
    other = Procedure.objects.filter(injury=to, kind=ProcedureKind.FIXATION).first()
    if fixed and other is not None:
        raise BadInput(
            f"That injury has its fixation already ({other}). One of the two is a revision, or wrong: "
            "correct its kind, void it, or move it first."
        )
    if to.side != came_from.side and not side_confirmed:
        was, there = came_from.get_side_display().lower(), to.get_side_display().lower()
        raise BadInput(
            {
                "side_confirmed": f"It was recorded of the {was} shoulder, and that injury is of the "
                f"{there}. Confirm that the {there} one was operated."
            }
        )


def _revised_there(procedure: Procedure, to: Injury, revises: Procedure | None) -> Procedure | None:
    """Return what an operation revises on the other injury; it has left what it was said to revise."""
    if procedure.revises is None:
        return None
    if revises is None and procedure.kind in enrolment.REVISING:
        raise BadInput(
            {
                "revises": f"{procedure} revises {procedure.revises}, which stays. Name what it "
                "revises on the other injury; or move that one, and this goes along."
            }
        )
    if revises is not None and revises.injury_id != to.pk:
        raise BadInput({"revises": "That operation is not on the injury that it goes to."})
    return revises


def _all_possible(chain: Sequence[Procedure], today: date) -> None:
    """Hold each operation against the injury that it is on now."""
    for one in chain:
        if one.voided_at is None:
            try:
                enrolment.procedure_possible(one, today)
            except BadInput as fault:
                raise BadInput(f"{one}: {' '.join(fault.faults.values())}") from fault


def _one_of(patient: Patient) -> None:
    if not Patient.everything.filter(pk=patient.pk, identity__isnull=False).exists():
        raise BadInput(f"{patient} has no identity any more.")


def _again(procedure: Procedure) -> Procedure:
    return Procedure.everything.get(pk=procedure.pk)


def _still_there(procedure: Procedure, here: Injury, back: Injury, move: RecordMove) -> None:
    present = ""
    if procedure.voided_at is not None or procedure.injury_id != here.pk:
        present = "of an operation that was voided or moved since"
    elif back.voided_at is not None:
        present = "from an injury that is void"
    elif (back.patient_id, here.patient_id) != (move.from_patient_id, move.to_patient_id):
        present = "followed by a merge of the patient, undo that first"
    if present:
        raise IllegalTransition("This move", present=present, wanted="undone")


def _nothing_since(chain: Sequence[Procedure], moved: Mapping[str, Any], back: Injury) -> None:
    """Refuse where an operation was recorded since that hangs on it, or that took its place."""
    changed = moved.get(Procedure._meta.db_table, {}).get("changed", {})
    since = [one for one in chain if str(one.pk) not in changed and one.voided_at is None]
    if since:
        raise BadInput(
            f"{since[0]} was recorded since and revises it. Move the operation once more instead: what "
            "revises it goes along."
        )
    fixed = any(one.is_index and one.voided_at is None for one in chain)
    other = Procedure.objects.filter(injury=back, kind=ProcedureKind.FIXATION).first()
    if fixed and other is not None:
        raise BadInput(f"The injury that it came from has another fixation by now ({other}).")


def _void_made(injury: Injury, act: Act) -> None:
    """Void the injury that the move had made, while nothing else was recorded on it."""
    if Procedure.objects.filter(injury=injury).exists() or injury.classifications.exists():
        return
    answers = notices.injury_left.send(sender=Injury, injury=injury)
    if not any(used for _, used in answers):
        records.void(
            injury, by=act.by, now=act.now, expected_version=injury.version, reason=act.reason
        )
