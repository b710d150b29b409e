"""A file lands in parts, each row exactly once, whatever dies in between."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.core.files.storage import default_storage

from followup.models import Review
from followup.models.imports import ImportDraft
from followup.services import import_checks, import_runs, import_work, uploads
from registry import notices
from registry.errors import BadInput, IllegalTransition
from registry.models import AuditEntry, ImportBatch, ImportRow, Patient, Procedure
from registry.services import patients
from tests import trailed
from tests.builders import NOW, TODAY
from tests.followup.case_files import case
from tests.followup.sent_files import (
    connie,
    decide,
    landed,
    list_of,
    sent,
    sent_ours,
    settled,
    theirs,
)

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def small_parts(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> None:
    monkeypatch.setattr(import_checks, "CHUNK", 3)
    monkeypatch.setattr(import_runs, "SETTLED_AT_ONCE", 3)
    settings.MEDIA_ROOT = tmp_path


def fates() -> dict[int, str]:
    return dict(ImportRow.objects.order_by("line").values_list("line", "fate"))


def work(draft: ImportDraft) -> None:
    import_work.work(ImportDraft.objects.get(pk=draft.pk), now=NOW, today=TODAY)


class Killed(BaseException):
    """What no part of the program catches."""


@contextmanager
def killed_at(number: str) -> Iterator[None]:
    """Die while the patient with a number is being saved."""

    def hear(procedure: Procedure, **heard: Any) -> None:
        if procedure.injury.patient.identifiers.filter(value=number).exists():
            raise Killed

    notices.procedure_recorded.connect(hear)
    try:
        yield
    finally:
        notices.procedure_recorded.disconnect(hear)


def test_every_row_lands_and_the_account_adds_up() -> None:
    draft = sent_ours(*(case(n) for n in range(1, 8)), case(8, injury_date="2025-02-30"), case(1))
    assert (draft.rows_good, draft.rows_rejected, draft.rows_known) == (7, 1, 1)
    batch = landed(draft)
    assert (batch.state, batch.rows_read, batch.ended_at) == ("partial", 9, batch.ended_at)
    assert (batch.rows_landed, batch.rows_known, batch.rows_refused) == (7, 1, 1)
    assert batch.ended_at is not None
    assert Patient.objects.count() == Procedure.objects.count() == 7
    assert fates()[9] == "refused"
    assert fates()[10] == "known"
    assert trailed.holds()


def test_a_whole_file_is_forgotten_when_it_has_landed() -> None:
    draft = sent_ours(case(1), case(2))
    path = uploads.path_of(draft)
    assert landed(draft).state == "done"
    assert not ImportDraft.objects.exists()
    assert not default_storage.exists(path)


def test_a_worker_that_dies_in_the_middle_is_gone_on_behind_and_each_row_lands_once() -> None:
    draft = sent_ours(*(case(n) for n in range(1, 11)))
    batch = import_runs.start(draft, by=connie(), now=NOW)
    with killed_at("000005"), pytest.raises(Killed):
        work(draft)
    assert fates() == {2: "landed", 3: "landed", 4: "landed"}
    batch.refresh_from_db()
    assert (batch.state, batch.rows_landed) == ("running", 3)
    work(draft)
    batch.refresh_from_db()
    assert (batch.state, batch.rows_landed) == ("done", 10)
    assert Procedure.objects.count() == Patient.objects.count() == 10
    assert list(fates().values()) == ["landed"] * 10


def test_a_holder_that_is_alive_is_left_alone_and_a_dead_one_is_taken_over() -> None:
    draft = sent_ours(case(1))
    import_runs.start(draft, by=connie(), now=NOW)
    held = {"holder": "somebody", "held_until": NOW + import_work.LEASE}
    ImportDraft.objects.update(**held)
    assert not import_work.work(draft, now=NOW, today=TODAY)
    assert not Procedure.objects.exists()
    later = NOW + 2 * import_work.LEASE
    assert import_work.work(draft, now=later, today=TODAY)
    assert Procedure.objects.count() == 1


def test_whoever_lost_the_file_lands_nothing_more() -> None:
    draft = sent_ours(*(case(n) for n in range(1, 11)))
    import_runs.start(draft, by=connie(), now=NOW)

    def hear(procedure: Procedure, **heard: Any) -> None:
        if procedure.injury.patient.identifiers.filter(value="000003").exists():
            ImportDraft.objects.update(holder="another")

    notices.procedure_recorded.connect(hear)
    try:
        with pytest.raises(import_work.TakenOver):
            work(draft)
    finally:
        notices.procedure_recorded.disconnect(hear)
    assert len(fates()) == 3


def test_death_and_lapses_are_settled_over_all_parts_and_only_once() -> None:
    rows = [
        case(1, died_on="2025-07-01"),
        *(case(n) for n in range(2, 6)),
        case(1, side="right", f6w_date="2025-03-20", f6w_pain="2"),
    ]
    draft = sent_ours(*rows)
    batch = landed(draft)
    assert batch.rows_landed == 6
    patient = Patient.objects.get(identifiers__value="000001")
    assert (patient.status, str(patient.status_on)) == ("died", "2025-07-01")
    ended = Review.objects.filter(procedure__injury__patient=patient, step__code="12m")
    assert set(ended.values_list("state", "ended_because")) == {("not_needed", "death")}
    others = Review.objects.filter(step__code="2w").exclude(procedure__injury__patient=patient)
    assert set(others.values_list("state", flat=True)) == {"lapsed"}


def test_what_one_line_says_against_a_line_far_above_stays_refused() -> None:
    rows = [case(1), *(case(n) for n in range(2, 7)), case(1, smoking="never")]
    draft = sent_ours(*rows)
    assert draft.rows_rejected == 1
    landed(draft)
    assert fates()[8] == "refused"
    row = ImportRow.objects.get(line=8)
    assert "line 2 gives this operation too, and says something else" in row.reason


def twins() -> tuple[dict[str, str], dict[str, str]]:
    return case(1), case(2, **{name: case(1)[name] for name in ("family_name", "given_name")}) | {
        "birth_date": "1986-04-13"
    }


def test_who_may_be_the_same_waits_and_the_rest_lands() -> None:
    draft = sent_ours(*twins(), case(3))
    assert (draft.rows_good, draft.rows_waiting) == (2, 1)
    batch = landed(draft)
    assert (batch.state, batch.rows_landed, batch.rows_waiting) == ("partial", 2, 1)
    assert fates() == {2: "landed", 3: "waiting", 4: "landed"}


@pytest.mark.parametrize(("answer", "patients"), [("same", 2), ("other", 3)])
def test_what_waited_lands_when_somebody_has_decided(answer: str, patients: int) -> None:
    one, other = twins()
    draft = sent_ours(one, {**other, "side": "right"}, case(3))
    batch = landed(draft)
    draft.refresh_from_db()
    decide(draft, answer)
    import_runs.go_on(draft, by=connie())
    work(draft)
    batch.refresh_from_db()
    assert (batch.state, batch.rows_landed, batch.rows_waiting) == ("done", 3, 0)
    assert Patient.objects.count() == patients
    assert Procedure.objects.count() == 3


def test_a_file_is_begun_once_and_only_when_it_is_checked() -> None:
    draft = sent_ours(case(1))
    stale = ImportDraft.objects.get(pk=draft.pk)
    import_runs.start(draft, by=connie(), now=NOW)
    with pytest.raises(IllegalTransition, match="begun by somebody else"):
        import_runs.start(stale, by=connie(), now=NOW)
    with pytest.raises(IllegalTransition, match="being imported"):
        import_runs.start(draft, by=connie(), now=NOW)
    assert ImportBatch.objects.count() == 1


def test_a_file_without_a_good_row_is_not_begun() -> None:
    draft = sent_ours(case(1, injury_date="2025-02-30"))
    with pytest.raises(BadInput, match="no row in this file that could be added"):
        import_runs.start(draft, by=connie(), now=NOW)


def test_every_change_is_in_the_trail_under_who_imported() -> None:
    draft = sent_ours(case(1))
    before = trailed.last_entry()
    landed(draft)
    written = AuditEntry.objects.filter(id__gt=before)
    assert {entry.person_id for entry in written} == {connie().pk}


def test_the_receipt_names_what_each_column_was_and_what_was_left_out() -> None:
    draft = settled(sent(list_of(theirs(1))), construct_type="LP")
    batch = landed(draft)
    assert batch.how["columns"]["OP-Datum"] == "procedure_date"
    assert batch.how["left_out"] == ["Bemerkung"]
    assert str(Procedure.objects.get().performed_on) == "2025-02-06"
    assert Procedure.objects.get().construct.construct_type.code == "LP"


def test_what_a_fault_stopped_is_gone_on_with_and_each_row_lands_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    draft = sent_ours(*(case(n) for n in range(1, 8)))
    batch = import_runs.start(draft, by=connie(), now=NOW)
    stop_at_second_part(monkeypatch)
    work(draft)
    draft.refresh_from_db()
    assert "could not go on" in draft.fault
    assert len(fates()) == 3
    monkeypatch.undo()
    work(draft)
    assert len(fates()) == 3
    import_runs.resume(draft)
    work(draft)
    batch.refresh_from_db()
    assert (batch.state, batch.rows_landed) == ("done", 7)
    assert Procedure.objects.count() == 7


def stop_at_second_part(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fail as nobody foresaw when a second part is to land."""
    monkeypatch.setattr(import_checks, "CHUNK", 3)
    land, parts = import_runs._Part.land, list[int]()

    def failing(part: Any, rows: Any) -> None:
        parts.append(1)
        if len(parts) > 1:
            raise ZeroDivisionError
        land(part, rows)

    monkeypatch.setattr(import_runs._Part, "land", failing)


def test_only_what_a_fault_stopped_is_resumed() -> None:
    draft = sent_ours(case(1))
    with pytest.raises(IllegalTransition, match="'checked'"):
        import_runs.resume(draft)
    import_runs.start(draft, by=connie(), now=NOW)
    with pytest.raises(IllegalTransition, match="'being imported'"):
        import_runs.resume(draft)
    ImportDraft.objects.update(fault="x")
    ImportBatch.objects.update(
        state="undone", undone_at=NOW, undone_by=connie(), undone_because="x", rows_waiting=1
    )
    with pytest.raises(IllegalTransition):
        import_runs.resume(draft)
    assert ImportDraft.objects.get().fault == "x"


def test_a_doubt_that_arises_only_as_rows_land_can_be_decided() -> None:
    one, other = twins()
    draft = sent_ours({**other, "side": "right"}, case(3))
    assert (draft.rows_good, draft.pairs.count()) == (2, 0)
    landed(sent_ours(one))
    batch = landed(draft)
    assert (batch.rows_landed, batch.rows_waiting) == (1, 1)
    pair = draft.pairs.get()
    assert (pair.number, pair.likely) == ("000002", False)
    assert pair.other_patient == Patient.objects.get(identifiers__value="000001")
    draft.refresh_from_db()
    decide(draft, "same")
    import_runs.go_on(draft, by=connie())
    work(draft)
    batch.refresh_from_db()
    assert (batch.state, batch.rows_landed) == ("done", 2)
    assert Patient.objects.count() == 2


def test_a_pair_of_lines_is_not_asked_about_again_when_one_is_a_patient() -> None:
    one, other = twins()
    draft = sent_ours(one, case(3), case(4), {**other, "side": "right"})
    assert draft.pairs.get().other_number == "000001"
    landed(draft)
    assert fates()[5] == "waiting"
    assert draft.pairs.get().other_number == "000001"


def test_going_on_does_not_undo_what_a_person_corrected_since() -> None:
    one, other = twins()
    rows = (case(3, died_on="2025-07-01"), one, {**other, "side": "right", "died_on": "2025-08-01"})
    draft = sent_ours(*rows)
    batch = landed(draft)
    patient = Patient.objects.get(identifiers__value="000003")
    assert patient.status == "died"
    patients.change_status(
        patient=patient,
        status="active",
        on=None,
        note="it was somebody else",
        expected_version=patient.version,
        by=connie(),
        now=NOW,
        today=TODAY,
    )
    draft.refresh_from_db()
    decide(draft, "other")
    import_runs.go_on(draft, by=connie())
    work(draft)
    batch.refresh_from_db()
    assert batch.state == "done"
    patient.refresh_from_db()
    assert patient.status == "active"
    assert Patient.objects.get(identifiers__value="000002").status == "died"
