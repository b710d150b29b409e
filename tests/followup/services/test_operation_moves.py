"""What follows an operation to another injury, and the schedules at both ends."""

from datetime import date
from typing import Any

import pytest

from followup.models import Film, HardwareDecision, Invitation, MotionExam, Review, Score, Task
from followup.services import films, hardware, motion, operation_moves, scores, tasks
from registry.errors import BadInput
from registry.models import Injury, Procedure
from registry.services import records
from registry.services.moved_rows import Along
from tests import builders, operations
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def pair() -> tuple[Procedure, Procedure]:
    """Return the fixations of both shoulders of one patient."""
    left = builders.procedure()
    right = builders.procedure(builders.injury(left.injury.patient, side="right"))
    return left, right


def at(injury: Injury) -> dict[str, Any]:
    return {"by": injury.recorded_by, "now": NOW, "today": TODAY}


def states(operation: Procedure) -> dict[str, tuple[str, str]]:
    rows = Review.objects.filter(procedure=operation).select_related("step")
    return {row.step.code: (row.state, row.ended_because) for row in rows}


def test_a_revision_ends_the_schedule_where_it_goes_and_no_longer_where_it_was() -> None:
    left, right = pair()
    revision = operations.later(left.injury, "revision_fixation", left, date(2026, 7, 1))
    was_left, was_right = states(left), states(right)
    assert ("not_needed", "revision") in was_left.values()
    one = operations.move(revision, right.injury, side_confirmed=True, revises=right)
    assert ("not_needed", "revision") not in states(left).values()
    assert ("not_needed", "revision") in states(right).values()
    operations.undo(one)
    assert (states(left), states(right)) == (was_left, was_right)


def test_a_booked_slot_is_not_taken_from_who_waits_for_it() -> None:
    left, right = pair()
    revision = operations.later(left.injury, "revision_fixation", left, date(2026, 7, 1))
    review = Review.objects.get(procedure=right, opens_on__lte=TODAY, closes_on__gte=TODAY)
    slot = builders.booked(review)
    with pytest.raises(BadInput, match="has a slot on 01 Dec 2026 09:00, which this would cancel"):
        operations.move(revision, right.injury, side_confirmed=True, revises=right)
    slot.refresh_from_db()
    assert slot.state == "booked"


def test_hardware_is_asked_of_again_where_it_was_not_taken_out_and_settled_where_it_was() -> None:
    left, right = pair()
    for one in (left, right):
        hardware.raise_question(
            procedure=one, because="clinician", by=one.recorded_by, now=NOW, on=date(2026, 9, 1)
        )
    removal = operations.later(left.injury, "implant_removal", left, date(2026, 10, 1))

    def now() -> list[str]:
        rows = HardwareDecision.objects.order_by("procedure_id")
        return list(rows.values_list("state", flat=True))

    assert now() == ["done", "raised"]
    one = operations.move(removal, right.injury, side_confirmed=True, revises=right)
    assert now() == ["raised", "done"]
    last = HardwareDecision.objects.get(procedure=left).steps.last()
    assert last is not None
    assert last.words == "the operation that had answered it was of another injury"
    operations.undo(one)
    assert now() == ["done", "raised"]
    assert HardwareDecision.objects.get(procedure=left).steps.last().kind == "done"


def exam(injury: Injury, side: str, **values: Any) -> MotionExam:
    given = {"examined_on": date(2026, 8, 1), "side": side, "mode": "active", **values}
    return motion.record_motion(injury=injury, values=given, **at(injury))


def test_exams_change_sides_with_an_operation_of_the_other_shoulder() -> None:
    operation = builders.procedure()
    to = builders.injury(operation.injury.patient, side="right")
    ours = exam(operation.injury, "left", flexion_deg=60)
    other = exam(operation.injury, "right", flexion_deg=150)
    chosen = operations.along(operation, turned=True)
    one = operations.move(operation, to, along=chosen, side_confirmed=True)
    for row in (ours, other):
        row.refresh_from_db()
    assert [(row.injury, row.side) for row in (ours, other)] == [(to, "right"), (to, "left")]
    operations.undo(one)
    for row in (ours, other):
        row.refresh_from_db()
    assert [(row.injury, row.side) for row in (ours, other)] == [
        (operation.injury, "left"),
        (operation.injury, "right"),
    ]


def test_a_second_exam_of_one_day_is_refused_in_words() -> None:
    operation = builders.procedure()
    to = builders.injury(operation.injury.patient)
    exam(operation.injury, "left")
    exam(to, "left")
    with pytest.raises(BadInput, match="a second one of that day on the other injury"):
        operations.move(operation, to)


def test_what_is_unticked_stays_and_what_is_gone_or_before_that_injury_is_refused() -> None:
    operation = builders.procedure()
    hurt = operation.injury
    early, late = (
        films.record_film(injury=hurt, values={"taken_on": day, "view": "ap"}, **at(hurt))
        for day in (date(2026, 6, 2), date(2026, 7, 2))
    )
    day = date(2026, 6, 4)
    to = builders.injury(hurt.patient, injured_earliest=day, injured_latest=day)
    with pytest.raises(BadInput, match="AP, 02 Jun 2026 is before that injury"):
        operations.move(operation, to, along=Along({"film": [early.pk]}))
    to.refresh_from_db()
    with pytest.raises(BadInput, match="not on this injury any more"):
        operations.move(operation, to, along=Along({"film": [late.pk + 99]}))
    to.refresh_from_db()
    operation.refresh_from_db()
    operations.move(operation, to, along=Along({"film": []}))
    assert set(Film.objects.filter(injury=hurt)) == {early, late}


def test_scores_at_both_ends_say_anew_whether_hardware_was_in_place() -> None:
    operation = builders.procedure()
    hurt, to = operation.injury, builders.injury(operation.injury.patient)
    days = (date(2026, 7, 1), date(2026, 8, 1))
    stays, goes = (
        scores.record_score(injury=hurt, instrument="pain_nrs", taken_on=day, total=2.0, **at(hurt))
        for day in days
    )
    there = scores.record_score(
        injury=to, instrument="pain_nrs", taken_on=days[0], total=2.0, **at(to)
    )
    one = operations.move(operation, to, along=Along({"score": [goes.pk]}))
    keys = [stays.pk, goes.pk, there.pk]

    def said() -> list[str]:
        return [Score.objects.get(pk=key).hardware_in_place for key in keys]

    assert said() == ["no", "yes", "yes"]
    operations.undo(one)
    assert said() == ["yes", "yes", "no"]


def test_a_link_in_use_stands_in_the_way_of_another_patient_or_side_only() -> None:
    operation = builders.procedure()
    whose = operation.injury.patient
    Invitation.objects.create(
        site=operation.site,
        review=Review.objects.filter(procedure=operation).earliest("pk"),
        made_at=NOW,
        sent_at=NOW,
        expires_at=NOW.replace(month=12),
    )
    for to in (builders.injury(), builders.injury(whose, side="right")):
        with pytest.raises(BadInput, match="withdraw it first"):
            operations.move(operation, to, side_confirmed=True)
        operation.refresh_from_db()
    operations.move(operation, builders.injury(whose))


def test_tasks_about_its_hardware_follow_to_another_patient() -> None:
    operation = builders.procedure()
    question = hardware.raise_question(
        procedure=operation, because="clinician", by=operation.recorded_by, now=NOW, on=TODAY
    )
    assert question is not None
    whose, to = operation.injury.patient, builders.injury()
    about, other = (
        tasks.open_task(
            site=operation.site,
            patient=whose,
            kind="other",
            words="ask",
            due_on=TODAY,
            key=key,
            by=whose.recorded_by,
            now=NOW,
        )
        for key in (f"removal:{question.pk}:1", "else")
    )
    one = operations.move(operation, to)
    assert [Task.objects.get(pk=row.pk).patient for row in (about, other)] == [to.patient, whose]
    operations.undo(one)
    assert Task.objects.get(pk=about.pk).patient == whose


def test_whether_anything_is_on_an_injury_is_known() -> None:
    injury = builders.injury()
    assert not operation_moves.holds_anything(injury)
    row = exam(injury, "left")
    assert operation_moves.holds_anything(injury)
    records.void(row, by=injury.recorded_by, now=NOW, expected_version=1, reason="x")
    assert not operation_moves.holds_anything(injury)
    assert operation_moves.operations_of(injury) == []
