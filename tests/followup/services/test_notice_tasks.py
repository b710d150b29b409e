from typing import Any

import pytest

from followup.models import Task
from followup.services import notice_tasks, tasks
from registry.models import Injury, NoticeCarrier, Part, Patient, PatientMerge, RecordMove
from registry.services import merges, moves, patients, safety_notices, voiding
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import notice, part

pytestmark = pytest.mark.django_db


def step(row: Part, name: str) -> None:
    carrier = NoticeCarrier.objects.get(procedure=row.construct.procedure_id)
    safety_notices.take_step(
        carrier=carrier,
        step=name,
        on=TODAY,
        note="asked",
        expected_version=carrier.version,
        by=carrier.recorded_by,
        now=NOW,
    )


def still_open() -> list[Any]:
    rows = Task.objects.filter(kind="safety_notice", done_at__isnull=True)
    return list(rows.order_by("pk").values_list("patient_id", flat=True))


def patient_of(row: Part) -> Any:
    return row.construct.procedure.injury.patient


def test_each_patient_is_one_task_however_many_operations_carry_it() -> None:
    row = part(batch="LOT42A")
    other_side = builders.injury(patient_of(row), side="right")
    part(builders.procedure(other_side), batch="LOT42A")
    part(batch="L0T42A")
    saved = notice()
    assert still_open() == [patient_of(row).pk]
    task = Task.objects.get(kind="safety_notice")
    assert (task.due_on, task.notice_id, task.reply_id) == (saved.due_on, saved.pk, None)
    assert saved.reference in task.words


def test_a_task_closes_with_the_last_of_a_patient_and_opens_again_with_it() -> None:
    row = part(batch="LOT42A")
    notice()
    step(row, "reached")
    assert still_open() == [patient_of(row).pk]
    step(row, "reviewed")
    assert still_open() == []
    assert Task.objects.get().done_note == "reviewed"
    step(row, "opened_again")
    assert still_open() == [patient_of(row).pk]


def test_who_is_found_to_carry_it_becomes_a_task() -> None:
    row = part(batch="L0T42A")
    notice()
    assert still_open() == []
    step(row, "is_one")
    assert still_open() == [patient_of(row).pk]
    step(row, "decide_again")
    assert still_open() == []


def test_being_told_closes_the_task_where_the_notice_asks_for_no_more() -> None:
    row = part(batch="LOT42A")
    notice(must_be_seen=False)
    step(row, "reached")
    assert still_open() == []


@pytest.mark.parametrize(("status", "left"), [("died", 0), ("withdrawn", 1), ("moved", 1)])
def test_who_ended_the_follow_up_but_lives_still_carries_it(status: str, left: int) -> None:
    row = part(batch="LOT42A")
    notice()
    patient = patient_of(row)
    patients.change_status(
        patient=patient,
        status=status,
        on=TODAY,
        note="",
        expected_version=patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert len(still_open()) == left


def test_an_operation_that_is_void_closes_its_task() -> None:
    row = part(batch="LOT42A")
    notice()
    operation = row.construct.procedure
    voiding.void_row(
        row=operation,
        reason="typed twice",
        expected_version=operation.version,
        by=operation.recorded_by,
        now=NOW,
    )
    assert still_open() == []


def test_the_sweep_opens_what_was_closed_without_a_step_and_does_so_once() -> None:
    row = part(batch="LOT42A")
    saved = notice()
    task = Task.objects.get(kind="safety_notice")
    tasks.close_task(task=task, note="done", expected_version=1, by=saved.owner, now=NOW)
    assert still_open() == []
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 1
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0
    assert still_open() == [patient_of(row).pk]
    NoticeCarrier.objects.update(state="reviewed")
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 1
    assert still_open() == []


def test_opening_for_nobody_opens_nothing() -> None:
    saved = notice()
    assert notice_tasks.open_for(notice=saved, carriers=[], by=saved.owner, now=NOW) == 0


def test_settling_one_leaves_the_others_of_the_notice_alone() -> None:
    one, other = part(batch="LOT42A"), part(batch="LOT42A")
    notice()
    NoticeCarrier.objects.filter(procedure=one.construct.procedure_id).update(state="died")
    carrier = NoticeCarrier.objects.get(procedure=one.construct.procedure_id)
    notice_tasks.settle(carrier=carrier, by=carrier.recorded_by, now=NOW)
    assert still_open() == [patient_of(other).pk]


def moved(row: Part, to: Patient) -> RecordMove:
    injury = Injury.objects.get(pk=row.construct.procedure.injury_id)
    return moves.move_to_patient(
        injury=injury,
        to=to,
        reason="the other card",
        expected_version=injury.version,
        to_version=Patient.objects.get(pk=to.pk).version,
        by=injury.recorded_by,
        now=NOW,
        today=TODAY,
    )


def undone(move: RecordMove) -> None:
    again = RecordMove.objects.get(pk=move.pk)
    moves.undo(move=again, by=again.moved_by, now=NOW, today=TODAY)


def test_a_task_follows_a_moved_injury_at_once_and_back(defaults: None) -> None:
    row, to = part(batch="LOT42A"), builders.patient()
    whose = patient_of(row)
    saved = notice()
    before = list(Task.objects.values())
    move = moved(row, to)
    (task,) = Task.objects.filter(kind="safety_notice")
    assert (task.patient, task.done_at) == (to, None)
    assert task.key == f"notice:{saved.pk}:{row.site_id}:{to.pk}"
    by = saved.owner
    assert notice_tasks.sweep(by=by, now=NOW) == 0
    undone(move)
    assert still_open() == [whose.pk]
    assert list(Task.objects.values()) == before


def test_a_patient_who_carries_more_keeps_the_task_when_one_injury_goes(defaults: None) -> None:
    row, to = part(batch="LOT42A"), builders.patient()
    whose = patient_of(row)
    part(builders.procedure(builders.injury(whose, side="right")), batch="LOT42A")
    saved = notice()
    move = moved(row, to)
    assert still_open() == [whose.pk, to.pk]
    undone(move)
    assert still_open() == [whose.pk]
    assert Task.objects.get(patient=to).done_note == "not about this patient any more"
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0


def parted(merge: PatientMerge) -> None:
    again = PatientMerge.objects.get(pk=merge.pk)
    merges.unmerge_patients(merge=again, by=again.merged_by, now=NOW)


def test_a_task_follows_a_merge_through_the_night_and_back() -> None:
    row, kept = part(batch="LOT42A"), builders.patient()
    whose = patient_of(row)
    saved = notice()
    before = list(Task.objects.values())
    merge = builders.merged(kept, whose)
    (task,) = Task.objects.all()
    assert (task.patient, task.key) == (kept, f"notice:{saved.pk}:{row.site_id}:{kept.pk}")
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0
    step(row, "reached")
    assert still_open() == [kept.pk]
    parted(merge)
    assert still_open() == [whose.pk]
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0
    assert list(Task.objects.values()) == before


def test_where_both_carry_it_one_task_is_left_and_two_again_after_parting() -> None:
    row, other = part(batch="LOT42A"), part(batch="LOT42A")
    kept, whose = patient_of(row), patient_of(other)
    saved = notice()
    merge = builders.merged(kept, whose)
    assert still_open() == [kept.pk]
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0
    parted(merge)
    assert still_open() == [kept.pk, whose.pk]
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0


def test_what_the_kept_one_came_to_carry_meanwhile_stays_theirs_after_parting() -> None:
    row, kept = part(batch="LOT42A"), builders.patient()
    whose = patient_of(row)
    saved = notice()
    merge = builders.merged(kept, whose)
    part(builders.procedure(builders.injury(kept, side="right")), batch="LOT42A")
    assert still_open() == [kept.pk]
    parted(merge)
    assert still_open() == [kept.pk, whose.pk]
    assert notice_tasks.sweep(by=saved.owner, now=NOW) == 0


def test_a_closed_task_goes_back_to_whom_it_was_about() -> None:
    row, kept = part(batch="LOT42A"), builders.patient()
    whose = patient_of(row)
    notice()
    merge = builders.merged(kept, whose)
    step(row, "reached")
    step(row, "reviewed")
    parted(merge)
    assert still_open() == []
    assert Task.objects.get().patient == whose
