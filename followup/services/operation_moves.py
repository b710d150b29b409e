"""What follows an operation to another injury: what was found after it, its hardware, both schedules."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django.db import IntegrityError
from django.db.models import Q

from followup.models.hardware import HardwareDecision, HardwareStep
from followup.models.images import IncomingImage
from followup.models.motion import MotionExam
from followup.models.reviews import Appointment, AppointmentState, Review
from followup.models.scores import Score
from followup.models.tasks import Task
from followup.selectors.operation_moves import FOUND, found_on, offered
from followup.services import feeds, hardware, moves, notice_tasks, planning, scores
from registry.errors import BadInput
from registry.models.base import ClinicalRow
from registry.models.injuries import Injury, Side
from registry.models.procedures import Procedure, ProcedureKind
from registry.services.moved_rows import Act, Along, Watch, hand_on, put_back

# What the move changes here and gives back, the rows that others hang on first.
WATCHED: tuple[type[ClinicalRow], ...] = (
    *(model for model, _ in FOUND.values()),
    Review,
    HardwareDecision,
    HardwareStep,
    Task,
)
OTHER = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT}


def operations_of(injury: Injury) -> list[int]:
    """Return the keys of all operations of an injury, void ones too."""
    return list(Procedure.everything.filter(injury=injury).values_list("pk", flat=True))


def follow(
    *, procedures: Collection[int], came_from: Injury, to: Injury, along: Along, act: Act
) -> dict[str, Any]:
    """Let what belongs to operations follow them, and plan both injuries; return what changed.

    Raises BadInput where something was found meanwhile that could go along, stands there already, is
    before that injury, or where a booked slot of an operation that stays would be cancelled.
    """
    if along.offered and along.offered != offered(came_from):
        raise BadInput(
            "Something was recorded on this injury meanwhile; look again what goes along."
        )
    if came_from.patient_id != to.patient_id or came_from.side != to.side:
        moves.nothing_under_way(procedures=procedures, now=act.now)
    watches = _watch(came_from, to)
    slots, in_place = _booked(came_from, to), _said_before(procedures, came_from, to)
    try:
        _take_along(came_from, to, along, act)
    except IntegrityError as fault:
        raise BadInput(
            "One of what goes along would be a second one of that day on the other injury; leave it, "
            "or void the one that is wrong first."
        ) from fault
    _settle_hardware(procedures, act)
    _plan(procedures, came_from, to, slots, act)
    _judge_scores(in_place, came_from, to, act)
    moved: dict[str, Any] = {"followed": {}}
    for watch in watches:
        moved["followed"] |= watch.found()
    if came_from.patient_id != to.patient_id:
        feeds.keep_rising(patients=[came_from.patient, to.patient])
        moved |= moves.follow_move(procedures=procedures, to=to.patient, now=act.now)
        _follow_notices(procedures, came_from, to, act)
    return moved


def follow_back(
    *,
    procedures: Collection[int],
    came_from: Injury,
    to: Injury,
    moved: Mapping[str, Any],
    act: Act,
) -> None:
    """Give back what followed operations, and plan both injuries again.

    What was recorded since stays on the injury. Raises BadInput while something is under way, or where
    a booked slot of an operation that stays would be cancelled.
    """
    if came_from.patient_id != to.patient_id or came_from.side != to.side:
        moves.nothing_under_way(procedures=procedures, now=act.now)
    slots = _booked(came_from, to)
    put_back(WATCHED, moved["followed"], by=act.by, now=act.now)
    _plan(procedures, came_from, to, slots, act)
    if came_from.patient_id != to.patient_id:
        feeds.keep_rising(patients=[came_from.patient, to.patient])
        moves.follow_back(came_from=came_from.patient, to=to.patient, moved=moved)
        _follow_notices(procedures, came_from, to, act)


def holds_anything(injury: Injury) -> bool:
    """Say whether anything was found on an injury, or waits for it, that is not void."""
    found = any(rows.filter(voided_at__isnull=True).exists() for rows in found_on(injury).values())
    return found or IncomingImage.objects.filter(injury=injury).exists()


def _watch(*injuries: Injury) -> list[Watch]:
    """Watch what may change, found by keys that stay the same."""
    on_them = [key for injury in injuries for key in operations_of(injury)]
    questions = HardwareDecision.everything.filter(procedure__in=on_them)
    questions_keys = list(questions.values_list("pk", flat=True))
    return [
        *(_of_now(model, injuries) for model, _ in FOUND.values()),
        Watch(Review.everything.filter(procedure__in=on_them)),
        Watch(questions),
        Watch(HardwareStep.everything.filter(decision__in=questions_keys)),
        Watch(Task.everything.filter(moves.removal_tasks_of(on_them))),
    ]


def _of_now(model: type[Any], injuries: Collection[Injury]) -> Watch:
    keys = list(model.everything.filter(injury__in=injuries).values_list("pk", flat=True))
    return Watch(model.everything.filter(pk__in=keys))


def _take_along(came_from: Injury, to: Injury, along: Along, act: Act) -> None:
    there = found_on(came_from)
    for kind, keys in along.rows.items():
        wanted = set(keys)
        rows = list(there[kind].filter(pk__in=wanted))
        if len(rows) < len(wanted):
            raise BadInput(
                "Something of what goes along is not on this injury any more; look again."
            )
        _not_before(kind, rows, to)
        for row in rows:
            values: dict[str, Any] = {"injury": to}
            if along.turned and isinstance(row, MotionExam):
                values["side"] = OTHER[Side(row.side)]
            hand_on([row], by=act.by, now=act.now, **values)


def _not_before(kind: str, rows: Iterable[Any], to: Injury) -> None:
    day = FOUND[kind][1]
    early = next((row for row in rows if getattr(row, day) < to.injured_earliest), None)
    if early is not None:
        raise BadInput(
            f"{early} is before that injury ({to.injured_earliest}), so it cannot be of it; leave it."
        )


def _settle_hardware(procedures: Collection[int], act: Act) -> None:
    """Ask again what an operation that left had answered, and let it answer where it is now."""
    left = HardwareDecision.objects.filter(removal__in=procedures).exclude(procedure__in=procedures)
    reason = "the operation that had answered it was of another injury"
    hardware.unsettle(questions=left, reason=reason, by=act.by, now=act.now)
    for one in Procedure.objects.filter(pk__in=procedures).select_related("revises"):
        if one.revises_id is not None and one.revises_id not in procedures:
            hardware.settle_by_procedure(procedure=one, by=act.by, now=act.now)


def _booked(*injuries: Injury) -> dict[int, Appointment]:
    slots = Appointment.objects.filter(
        review__procedure__injury__in=injuries, state=AppointmentState.BOOKED
    )
    return {slot.pk: slot for slot in slots.select_related("review__step")}


def _plan(
    procedures: Collection[int],
    came_from: Injury,
    to: Injury,
    slots: Mapping[int, Appointment],
    act: Act,
) -> None:
    """Plan what stands on both injuries now; refuse to take a slot from somebody who waits for it.

    The schedule of what moves is that of its own day, unless a revision at either end cuts it short.
    """
    others = Procedure.objects.filter(
        injury__in=(came_from, to), kind=ProcedureKind.REVISION_FIXATION
    ).exclude(pk__in=procedures)
    leave_out = () if others.exists() else procedures
    for injury in (came_from, to):
        planning.plan_operations_of(injury_id=injury.pk, leave_out=leave_out, **act.who)
    freed = Appointment.objects.filter(pk__in=slots).exclude(state=AppointmentState.BOOKED)
    for key in freed.values_list("pk", flat=True):
        slot = slots[key]
        raise BadInput(
            f"The review '{slot.review.step}' has a slot on {slot}, which this would cancel. Cancel or "
            "move it first, so that the patient is told."
        )


def _said_before(procedures: Collection[int], came_from: Injury, to: Injury) -> dict[int, str]:
    """Return what the operations said about hardware on the day of each score, before some went."""
    standing = Procedure.objects.all()
    before = {
        came_from.pk: standing.filter(Q(injury=came_from) | Q(pk__in=procedures)),
        to.pk: standing.filter(injury=to).exclude(pk__in=procedures),
    }
    rows = Score.everything.filter(injury__in=before)
    return {row.pk: scores.in_place_after(before[row.injury_id], row.taken_on) for row in rows}


def _judge_scores(before: Mapping[int, str], came_from: Injury, to: Injury, act: Act) -> None:
    """Say anew of scores whether hardware was in place, and compare those of another with norms."""
    for row in Score.everything.filter(pk__in=before).select_related("injury__patient__identity"):
        values: dict[str, Any] = {}
        # What was said otherwise, as a file may have, stands.
        if row.hardware_in_place == before[row.pk]:
            values["hardware_in_place"] = scores.hardware_in_place(row.injury, row.taken_on)
        if row.relative_to and came_from.patient_id != to.patient_id:
            values |= scores.relative_share(row)
        if any(getattr(row, name) != value for name, value in values.items()):
            hand_on([row], by=act.by, now=act.now, **values)


def _follow_notices(procedures: Collection[int], came_from: Injury, to: Injury, act: Act) -> None:
    whose = {"came_from": came_from.patient, "to": to.patient}
    notice_tasks.follow(procedures=procedures, **whose, by=act.by, now=act.now)
