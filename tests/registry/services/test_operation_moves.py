"""One operation that was entered on the wrong injury goes to the right one, and back exactly."""

from datetime import date
from typing import Any

import pytest

from analytics.models import CaseToWeigh
from followup.models import Film, MotionExam, Review, Score
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import (
    AuditEntry,
    Construct,
    Injury,
    NoticeCarrier,
    Patient,
    PatientSite,
    Procedure,
    RecordMove,
)
from registry.models.moves import MoveKind
from registry.services import erasure, merges, moves, operation_moves, patients, records
from registry.services.moved_rows import Along
from tests import builders, full_cases, operations
from tests.builders import NOW, TODAY
from tests.exported import exported

pytestmark = pytest.mark.usefixtures("defaults")

NOTHING = Along({})


def two(**values: Any) -> tuple[Procedure, Injury]:
    """Return an operation, and the injury of the same patient that it was of."""
    operation = builders.procedure()
    return operation, builders.injury(operation.injury.patient, **values)


def again(row: Any) -> Any:
    row.refresh_from_db()
    return row


def test_an_operation_moves_with_what_belongs_to_it() -> None:
    injury, whose = full_cases.full()
    operation = injury.procedures.get()
    to = builders.injury(whose)
    operations.move(operation, to)
    assert again(operation).injury == to
    for model, way in (
        (Construct, "procedure__injury"),
        (Review, "procedure__injury"),
        (NoticeCarrier, "procedure__injury"),
        (Film, "injury"),
        (MotionExam, "injury"),
        (Score, "injury"),
    ):
        assert model.objects.filter(**{way: to}).exists(), model
        assert not model.objects.filter(**{way: injury}).exists(), model
    assert injury.classifications.exists()


@pytest.mark.parametrize("same_patient", [True, False])
def test_a_move_and_its_undoing_leave_every_table_as_it_was(same_patient: bool) -> None:
    injury, somebody = full_cases.full()
    operation = injury.procedures.get()
    to = builders.injury(injury.patient if same_patient else somebody)
    before = exported()
    one = operations.move(operation, to)
    changed = {table for table, digest in exported().items() if digest != before[table]}
    assert {"registry_procedure", "followup_film", "followup_motionexam"} <= changed
    assert ("followup_message" in changed) is not same_patient
    operations.undo(one)
    assert exported() == before
    done = RecordMove.objects.get(pk=one.pk)
    assert (done.undone_at, done.undone_by) == (NOW, builders.person("recorder"))


def test_an_operation_goes_to_an_injury_that_is_made_for_it_and_that_is_void_after_undoing() -> (
    None
):
    operation = builders.procedure()
    somebody = builders.patient(at=builders.site("south"))
    before = exported()
    one = operation_moves.move_to_new_injury(
        procedure=operation,
        patient=somebody,
        values={
            "kind": "ac_joint",
            "side": "left",
            "injured_earliest": date(2026, 6, 2),
            "injured_latest": date(2026, 6, 3),
        },
        along=NOTHING,
        reason="another card",
        expected_version=1,
        by=builders.person("recorder"),
        now=NOW,
        today=TODAY,
    )
    made = again(operation).injury
    assert (made.patient, made.kind, made.age_years) == (somebody, "ac_joint", 46)
    assert PatientSite.objects.filter(patient=somebody, site=operation.site).exists()
    operations.undo(one)
    changed = {table for table, digest in exported().items() if digest != before[table]}
    assert changed == {"registry_injury"}
    assert again(made).void_reason == "move undone"


def test_a_made_injury_on_which_something_was_recorded_since_stays() -> None:
    operation = builders.procedure()
    one = operation_moves.move_to_new_injury(
        procedure=operation,
        patient=operation.injury.patient,
        values={"side": "left", "injured_earliest": TODAY, "injured_latest": TODAY}
        | {"injured_earliest": date(2026, 6, 2), "injured_latest": date(2026, 6, 2)},
        along=NOTHING,
        reason="a second fall",
        expected_version=1,
        by=builders.person("recorder"),
        now=NOW,
        today=TODAY,
    )
    made = again(operation).injury
    operations.later(made, "washout", None, date(2026, 7, 1))
    operations.undo(one)
    assert again(made).voided_at is None


def test_what_revises_an_operation_goes_with_it() -> None:
    operation, to = two()
    revision = operations.later(operation.injury, "revision_fixation", operation, date(2026, 7, 1))
    removal = operations.later(operation.injury, "implant_removal", revision, date(2026, 10, 1))
    washout = operations.later(operation.injury, "washout", None, date(2026, 7, 9))
    before = exported()
    one = operations.move(again(operation), to)
    assert {again(row).injury for row in (operation, revision, removal)} == {to}
    assert again(washout).injury != to
    operations.undo(one)
    assert exported() == before


def test_a_revision_of_what_stays_is_refused_until_one_says_what_it_revises_there() -> None:
    operation = builders.procedure()
    removal = operations.later(operation.injury, "implant_removal", operation, date(2026, 10, 1))
    other = builders.procedure(builders.injury(operation.injury.patient, side="right"))
    with pytest.raises(BadInput, match="revises Fixation, 05 Jun 2026, which stays"):
        operations.move(removal, other.injury, side_confirmed=True)
    with pytest.raises(BadInput, match="not on the injury that it goes to"):
        operations.move(removal, other.injury, side_confirmed=True, revises=operation)
    one = operations.move(removal, other.injury, side_confirmed=True, revises=other)
    assert (again(removal).injury, removal.revises) == (other.injury, other)
    operations.undo(one)
    assert (again(removal).injury, removal.revises) == (operation.injury, operation)


def test_a_second_fixation_of_one_injury_is_refused_by_name() -> None:
    operation, to = two()
    builders.procedure(to, performed_on=date(2026, 6, 9))
    with pytest.raises(BadInput, match="has its fixation already \\(Fixation, 09 Jun 2026\\)"):
        operations.move(operation, to)


def test_an_operation_before_the_injury_is_refused() -> None:
    operation, to = two(injured_earliest=date(2026, 6, 6), injured_latest=date(2026, 6, 6))
    with pytest.raises(BadInput, match="Fixation, 05 Jun 2026: 2026-06-05 is before the injury"):
        operations.move(operation, to)
    assert again(operation).injury != to


def test_the_other_side_has_to_be_confirmed() -> None:
    operation, to = two(side="right")
    with pytest.raises(BadInput, match="Confirm that the right one was operated"):
        operations.move(operation, to)
    operations.move(operation, to, side_confirmed=True)
    assert again(operation).injury == to


def test_an_injury_of_another_site_is_refused() -> None:
    operation, to = two(site=builders.site("south"))
    with pytest.raises(BadInput, match="followed at South Hospital"):
        operations.move(operation, to)


@pytest.mark.parametrize("status", ["died", "withdrawn", "moved"])
def test_nothing_moves_to_whose_follow_up_has_ended(status: str) -> None:
    operation, somebody = builders.procedure(), builders.patient()
    to = builders.injury(somebody)
    patients.change_status(
        patient=again(somebody),
        status=status,
        on=date(2026, 6, 3),
        note="",
        expected_version=somebody.version,
        by=somebody.recorded_by,
        now=NOW,
        today=TODAY,
    )
    with pytest.raises(BadInput, match="has ended"):
        operations.move(operation, again(to))


def erase(whose: Patient) -> None:
    erasure.erase_patient(
        patient=again(whose), reason="asked", by=whose.recorded_by, now=NOW, today=TODAY
    )


def merge_away(whose: Patient) -> None:
    merges.merge_patients(
        kept=builders.patient(),
        merged=whose,
        reason="same",
        kept_version=1,
        merged_version=whose.version,
        by=whose.recorded_by,
        now=NOW,
    )


def test_nothing_moves_to_somebody_who_was_merged_or_erased() -> None:
    operation, somebody = builders.procedure(), builders.patient()
    values = {"side": "left", "injured_earliest": date(2026, 6, 1)}
    given: dict[str, Any] = {
        "procedure": operation,
        "values": {**values, "injured_latest": date(2026, 6, 1)},
        "along": NOTHING,
        "reason": "x",
        "expected_version": 1,
        "by": builders.person("recorder"),
        "now": NOW,
        "today": TODAY,
    }
    merge_away(somebody)
    with pytest.raises(BadInput, match="open the one that was kept"):
        operation_moves.move_to_new_injury(patient=again(somebody), **given)
    erased = builders.patient()
    erase(erased)
    with pytest.raises(BadInput, match="no identity"):
        operation_moves.move_to_new_injury(patient=again(erased), **given)
    assert RecordMove.objects.count() == 0
    assert Injury.objects.count() == 1


def test_a_move_needs_a_reason_another_injury_and_the_versions_that_were_seen() -> None:
    operation, to = two()
    with pytest.raises(BadInput, match="Say how you know"):
        operations.move(operation, to, reason=" ")
    with pytest.raises(BadInput, match="on this injury already"):
        operations.move(operation, operation.injury)
    for stale in ({"expected_version": 9}, {"to_version": 9}):
        with pytest.raises(StaleVersion):
            operations.move(again(operation), again(to), **stale)
    records.void(to, by=to.recorded_by, now=NOW, expected_version=1, reason="x")
    with pytest.raises(BadInput, match="is void"):
        operations.move(again(operation), again(to))
    assert RecordMove.objects.count() == 0


def test_a_move_is_undone_once_and_what_came_later_first() -> None:
    operation, to = two()
    one = operations.move(operation, to)
    side = moves.change_side(
        injury=again(to),
        with_motion=True,
        reason="x",
        expected_version=to.version,
        by=to.recorded_by,
        now=NOW,
        today=TODAY,
    )
    with pytest.raises(IllegalTransition, match="undo that first"):
        operations.undo(one)
    operations.undo(side)
    operations.undo(one)
    with pytest.raises(IllegalTransition, match="'undone'"):
        operations.undo(one)


def test_undoing_is_refused_where_the_operation_has_gone_on() -> None:
    operation, to = two()
    came_from = operation.injury
    one = operations.move(operation, to)
    since = operations.later(to, "implant_removal", again(operation), date(2026, 10, 1))
    with pytest.raises(BadInput, match="was recorded since and revises it"):
        operations.undo(one)
    records.void(since, by=to.recorded_by, now=NOW, expected_version=1, reason="x")
    new = builders.procedure(again(came_from), performed_on=date(2026, 6, 8))
    with pytest.raises(BadInput, match="another fixation by now"):
        operations.undo(one)
    records.void(new, by=to.recorded_by, now=NOW, expected_version=new.version, reason="x")
    operations.undo(one)
    assert (again(operation).injury, Procedure.everything.get(pk=since.pk).injury) == (
        came_from,
        came_from,
    )


def test_undoing_is_refused_after_voiding_a_merge_or_an_erasure() -> None:
    operation, somebody = builders.procedure(), builders.patient()
    one = operations.move(operation, builders.injury(somebody))
    merge_away(again(somebody))
    with pytest.raises(IllegalTransition, match="merge"):
        operations.undo(one)
    erase(operation.injury.patient)
    with pytest.raises(IllegalTransition, match="erased"):
        operations.undo(one)
    other, to = two()
    second = operations.move(other, to)
    again(other)
    records.void(other, by=to.recorded_by, now=NOW, expected_version=other.version, reason="x")
    with pytest.raises(IllegalTransition, match="voided or moved since"):
        operations.undo(second)


def test_the_trail_says_why_and_both_cases_are_weighed() -> None:
    operation, to = two()
    came_from = operation.injury_id
    CaseToWeigh.objects.all().delete()
    one = operations.move(operation, to)
    entry = AuditEntry.objects.filter(table="registry_procedure", action="update").latest("id")
    assert entry.reason == "operation moved to another injury: typed on the wrong injury"
    assert list(CaseToWeigh.objects.values_list("injury_id", flat=True)) == [came_from, to.pk]
    operations.undo(one)
    assert CaseToWeigh.objects.count() == 4
    assert (one.kind, one.what) == (MoveKind.OPERATION, operation)


def test_nothing_is_saved_where_a_later_step_refuses() -> None:
    operation, to = two()
    before = exported()
    with pytest.raises(BadInput, match="recorded on this injury meanwhile"):
        operations.move(operation, to, along=Along({}, offered="older"))
    assert exported() == before
