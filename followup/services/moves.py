"""What follows an injury that goes to another patient or to its other side."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.db.models import Q, QuerySet

from followup.models.hardware import HardwareDecision
from followup.models.hospital_slots import HospitalSlot
from followup.models.messages import Message, MessageState
from followup.models.motion import MotionExam
from followup.models.questionnaires import Invitation
from followup.models.reviews import AppointmentState
from followup.models.tasks import Task
from registry.errors import BadInput
from registry.models.injuries import Injury, Side
from registry.models.patients import Patient
from registry.models.people import Person

EXAMS = MotionExam._meta.db_table
OTHER = {Side.LEFT: Side.RIGHT, Side.RIGHT: Side.LEFT}
# What has not gone to anybody; whatever went stays with whom it went to.
NOT_GONE = (MessageState.WAITING, MessageState.FAILED)
# A day on which nobody was examined: where an exam stands while two change places.
ASIDE = date.min


def follow_move(*, procedures: Collection[int], to: Patient, now: datetime) -> dict[str, list[int]]:
    """Let messages that have not gone, and tasks, follow some operations; return them by table.

    `procedures` are the keys of those that are, with what hangs on them, another patient's.

    Tries at reaching somebody, and messages that went, stay with whom they reached. Raises BadInput
    where `nothing_under_way` does.
    """
    nothing_under_way(procedures=procedures, now=now)
    moved: dict[str, list[int]] = {}
    for rows in _of_operations(procedures):
        moved[rows.model._meta.db_table] = list(rows.values_list("pk", flat=True))
        rows.update(patient=to)
    return moved


def follow_back(*, came_from: Patient, to: Patient, moved: Mapping[str, Any]) -> None:
    """Give back what followed a move and has not gone to anybody since."""
    tasks = Task.everything.filter(pk__in=moved.get(Task._meta.db_table, []))
    messages = Message.objects.filter(
        pk__in=moved.get(Message._meta.db_table, []), state__in=(*NOT_GONE, MessageState.STOPPED)
    )
    for rows in (tasks, messages):
        rows.filter(patient=came_from).update(patient=to)


def turn_exams(
    *, injury: Injury, rows: Mapping[str, Any] | None, by: Person, now: datetime
) -> dict[str, list[int]]:
    """Let exams change sides: all of an injury, or those of `rows`; return them by table.

    Raises BadInput where an exam would then be a second one of that side, day and mode.
    """
    exams = MotionExam.objects.filter(injury=injury).order_by("pk")
    if rows is not None:
        exams = exams.filter(pk__in=rows.get(EXAMS, []))
    turning = list(exams)
    _no_second(injury, turning)
    pairs: dict[tuple[date, str], list[MotionExam]] = {}
    for exam in turning:
        pairs.setdefault((exam.examined_on, exam.mode), []).append(exam)
    for (on, _), group in pairs.items():
        for exam in group[1:]:
            MotionExam.objects.filter(pk=exam.pk).update(examined_on=ASIDE)
        for exam in group:
            MotionExam.objects.filter(pk=exam.pk).update(
                side=OTHER[Side(exam.side)],
                examined_on=on,
                version=exam.version + 1,
                changed_at=now,
                changed_by=by,
            )
    return {EXAMS: [exam.pk for exam in turning]}


def _no_second(injury: Injury, turning: Iterable[MotionExam]) -> None:
    keys = [exam.pk for exam in turning]
    for exam in turning:
        there = MotionExam.objects.filter(
            injury=injury,
            examined_on=exam.examined_on,
            mode=exam.mode,
            side=OTHER[Side(exam.side)],
        ).exclude(pk__in=keys)
        if there.exists():
            raise BadInput(
                f"There would be two {exam.get_mode_display().lower()} exams of one side on "
                f"{exam.examined_on}; void the one that is wrong first."
            )


def nothing_under_way(*, procedures: Collection[int], now: datetime) -> None:
    """Refuse while somebody may be told, or may answer, about operations that become another's.

    Raises BadInput while a message about one is just being sent, a link to answer about it at home is
    in use, or the hospital's own system keeps a slot for it in the name of whose it was.
    """
    if Message.objects.filter(_about(procedures), state=MessageState.SENDING).exists():
        raise BadInput("A message about this is just being sent; try again in a minute.")
    in_use = Invitation.objects.filter(
        review__procedure__in=procedures,
        sent_at__isnull=False,
        completed_at__isnull=True,
        revoked_at__isnull=True,
        expires_at__gt=now,
    )
    if in_use.exists():
        raise BadInput(
            "A link to answer about this at home was handed out and is still open; withdraw it first, "
            "so that nobody answers for somebody else."
        )
    kept = HospitalSlot.objects.filter(
        appointment__review__procedure__in=procedures,
        appointment__state=AppointmentState.BOOKED,
        appointment__voided_at__isnull=True,
    )
    if slot := kept.select_related("appointment").first():
        raise BadInput(
            f"The hospital's system keeps the slot of {slot.appointment} in the name of the patient "
            "whose this was. Have it cancelled there first, or cancel it here."
        )


def _of_operations(procedures: Collection[int]) -> "list[QuerySet[Any]]":
    return [
        Message.objects.filter(_about(procedures), state__in=NOT_GONE),
        Task.everything.filter(Q(review__procedure__in=procedures) | removal_tasks_of(procedures)),
    ]


def _about(procedures: Collection[int]) -> Q:
    way = "review__procedure__in"
    return (
        Q(**{way: procedures})
        | Q(**{f"appointment__{way}": procedures})
        | Q(**{f"invitation__{way}": procedures})
    )


def removal_tasks_of(procedures: Collection[int]) -> Q:
    """Return which tasks ask for a decision about the operations' hardware: their key names it."""
    found = Q(pk__in=[])
    decisions = HardwareDecision.everything.filter(procedure__in=procedures)
    for decision in decisions.values_list("pk", flat=True):
        found |= Q(key__startswith=f"removal:{decision}:")
    return found
