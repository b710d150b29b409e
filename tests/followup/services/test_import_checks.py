"""The dry run says what would become of each row, and writes nothing else."""

from typing import Any

import pytest

from followup.models.imports import DraftState, ImportPair
from followup.services import import_checks, import_work
from registry.models import ImportBatch, Patient
from tests.builders import NOW, TODAY
from tests.followup.case_files import case
from tests.followup.sent_files import decide, found, landed, sent_ours
from tests.followup.services.test_import_runs import twins

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def small_parts(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> None:
    monkeypatch.setattr(import_checks, "CHUNK", 2)
    settings.MEDIA_ROOT = tmp_path


def test_every_row_has_one_fate_and_nothing_is_imported() -> None:
    draft = sent_ours(case(1), case(2, injury_date="2025-02-30"), case(1), *twins()[1:])
    assert (draft.state, draft.rows, draft.rows_done) == (DraftState.CHECKED, 4, 4)
    assert (draft.rows_good, draft.rows_known) == (1, 1)
    assert (draft.rows_rejected, draft.rows_waiting) == (1, 1)
    assert [line for line, _, _ in found(draft)] == [3, 4, 5]
    assert not Patient.objects.exists()
    assert not ImportBatch.objects.exists()


def test_lines_far_apart_are_held_against_each_other() -> None:
    rows = [case(1), *(case(n) for n in range(2, 9)), case(1, smoking="never")]
    draft = sent_ours(*rows)
    ((line, column, reason),) = found(draft)
    assert (line, column) == (10, "procedure_date")
    assert "line 2 gives this operation too" in reason


def test_the_people_of_a_pair_are_kept_side_by_side_with_score_and_reason() -> None:
    draft = sent_ours(*twins())
    pair = ImportPair.objects.get(draft=draft)
    assert (pair.line, pair.other_line, pair.likely) == (3, 2, False)
    assert pair.because == "the same family name, given name"
    assert pair.person["birth"] == "1986-04-13"
    assert pair.other_person["birth"] == "1986-04-12"
    assert 10 <= pair.weight < 30


def test_checking_again_keeps_decisions_and_throws_away_what_was_found() -> None:
    draft = sent_ours(*twins(), case(3, injury_date="2025-02-30"))
    assert (draft.rows_good, draft.rows_waiting) == (1, 1)
    decide(draft, "other")
    draft.state = DraftState.CHECKING
    draft.save()
    import_work.work(draft, now=NOW, today=TODAY)
    draft.refresh_from_db()
    assert (draft.rows_good, draft.rows_waiting, draft.rows_rejected) == (2, 0, 1)
    assert len(found(draft)) == 1
    assert draft.pairs.get().answer == "other"


def test_what_is_recorded_already_is_known() -> None:
    landed(sent_ours(case(1)))
    draft = sent_ours(case(1))
    assert draft.rows_known == 1
    assert found(draft)[0][2] == "imported before"
