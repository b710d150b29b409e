"""A file that was sent is kept for a week, and found only at its own site."""

import io
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from followup.models.imports import DraftState, ImportDraft
from followup.services import import_invariants, import_runs, import_undo, import_work, uploads
from registry.errors import BadInput
from registry.models import ImportBatch, ImportRow, Procedure, Site
from registry.services import work_invariants
from registry.services.invariants import Breach, Looking
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case
from tests.followup.sent_files import connie, landed, sent_ours
from tests.followup.services.test_import_runs import stop_at_second_part

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def keep(name: str = "cases.csv", site: Site | None = None) -> ImportDraft:
    return uploads.keep_upload(
        content=ContentFile(b"a,b\n"),
        name=name,
        site=site or builders.site(),
        by=connie(),
        now=timezone.now(),
    )


def test_a_kept_file_is_found_at_its_site_and_nowhere_else() -> None:
    north, south = builders.site("north"), builders.site("south")
    kept = keep()
    assert uploads.kept_upload(kept.token, [south, north]) == kept
    assert uploads.kept_upload(kept.token, [south]) is None
    assert uploads.kept_upload("none", [north]) is None
    with uploads.open_upload(kept) as source:
        assert isinstance(source, io.IOBase)
        assert source.read() == b"a,b\n"


@pytest.mark.parametrize(
    ("name", "plain"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Files\\my cases.csv", "my_cases.csv"),
        ("x" * 300 + ".csv", "x" * 96 + ".csv"),
    ],
)
def test_the_name_of_a_file_leads_nowhere_else(name: str, plain: str) -> None:
    assert keep(name).file_name == plain


def test_a_forgotten_file_leaves_no_folder() -> None:
    kept = keep()
    uploads.forget_upload(kept)
    assert uploads.kept_upload(kept.token, [kept.site]) is None
    assert default_storage.listdir(f"imports/{kept.site.pk}") == ([], [])


def test_files_go_after_a_week_with_what_was_found_in_them() -> None:
    kept = keep()
    kept.findings.create(line=2, kind="rejected", reason="x")
    now = timezone.now()
    assert uploads.forget_old(now=now + timedelta(days=6)) == 0
    assert uploads.forget_old(now=now + timedelta(days=8)) == 1
    assert not ImportDraft.objects.exists()
    assert not default_storage.exists(uploads.path_of(kept))


def test_a_file_that_is_being_imported_stays() -> None:
    kept = keep()
    later = timezone.now() + timedelta(days=30)
    ImportDraft.objects.update(state=DraftState.LANDING)
    assert uploads.forget_old(now=later) == 0
    ImportDraft.objects.update(fault="x", holder="a worker", held_until=later)
    assert uploads.forget_old(now=later) == 0
    with pytest.raises(BadInput, match="being worked on"):
        uploads.discard(kept, by=connie(), now=later)
    assert default_storage.exists(uploads.path_of(kept))


def test_the_file_of_an_import_that_a_fault_stopped_goes_and_what_landed_can_be_taken_back(
    monkeypatch: pytest.MonkeyPatch, defaults: Any
) -> None:
    rows = [case(n, died_on="2026-01-05") for n in range(1, 8)]
    draft, batch = stopped(monkeypatch, *rows)
    assert uploads.forget_old(now=NOW + timedelta(days=8)) == 1
    assert not default_storage.exists(uploads.path_of(draft))
    assert not ImportDraft.objects.exists()
    batch.refresh_from_db()
    assert (batch.state, batch.rows_landed, batch.rows_waiting) == ("partial", 3, 4)
    assert "4 rows were never come to" in str(batch.how["notes"])
    reasons = set(ImportRow.objects.values_list("reason", "ended_as"))
    assert reasons == {("added, but not how follow-up ended: the import was stopped", "")}
    assert breaches() == []
    import_undo.take_back(
        batch=batch, reason="no more of it", by=connie(), now=NOW + timedelta(days=9), today=TODAY
    )
    assert not Procedure.objects.exists()
    assert (batch.state, batch.rows_waiting) == ("undone", 4)
    assert breaches() == []


def test_the_file_of_an_import_that_a_fault_stopped_can_be_discarded_and_sent_again(
    monkeypatch: pytest.MonkeyPatch, defaults: Any
) -> None:
    draft, batch = stopped(monkeypatch, *(rows := [case(n) for n in range(1, 8)]))
    uploads.discard(draft, by=connie(), now=NOW)
    assert not default_storage.exists(uploads.path_of(draft))
    monkeypatch.undo()
    again = landed(sent_ours(*rows))
    assert (again.rows_known, again.rows_landed) == (3, 4)
    batch.refresh_from_db()
    assert batch.state == "partial"


def stopped(
    monkeypatch: pytest.MonkeyPatch, *rows: dict[str, str]
) -> tuple[ImportDraft, ImportBatch]:
    """Return a file whose import a fault stopped after three rows, and its account."""
    draft = sent_ours(*rows)
    batch = import_runs.start(draft, by=connie(), now=NOW)
    stop_at_second_part(monkeypatch)
    import_work.work(draft, now=NOW, today=TODAY)
    assert Procedure.objects.count() == 3
    return draft, batch


def breaches() -> list[Breach]:
    """Return what does not hold of files and of their accounts."""
    looking = Looking(now=NOW)
    every = (*import_invariants.INVARIANTS, *work_invariants.INVARIANTS)
    return [breach for one in every for breach in one.breaches(looking)]


def test_nothing_kept_is_nothing_to_forget() -> None:
    builders.site()
    assert uploads.forget_old(now=timezone.now()) == 0


def test_a_file_that_nobody_wants_is_discarded_unless_it_is_being_worked_on() -> None:
    kept = keep()
    ImportDraft.objects.update(state=DraftState.SETTLING)
    path = uploads.path_of(kept)
    uploads.discard(kept, by=connie(), now=timezone.now())
    assert not default_storage.exists(path)
    uploads.discard(kept, by=connie(), now=timezone.now())
    assert not ImportDraft.objects.exists()
    for state in (DraftState.READING, DraftState.CHECKING, DraftState.LANDING):
        busy = keep()
        ImportDraft.objects.filter(pk=busy.pk).update(state=state)
        with pytest.raises(BadInput, match="being worked on"):
            uploads.discard(busy, by=connie(), now=timezone.now())


def test_kept_files_of_a_site_where_somebody_is_erased_are_named_and_marked() -> None:
    now = timezone.now()
    waiting, landed = keep("list.csv"), keep("older.csv")
    elsewhere = keep(site=builders.site("south"))
    ImportDraft.objects.filter(pk=landed.pk).update(state=DraftState.LANDED)
    told = sorted(uploads.mark_erased(sites=[waiting.site_id], now=now))
    assert "list.csv, brought to North Hospital" in told[0]
    assert "discard it or land it" in told[0]
    assert "older.csv" in told[1]
    assert "discard it under Import" in told[1]
    for one in (waiting, landed, elsewhere):
        one.refresh_from_db()
    assert (waiting.erased_at, landed.erased_at, elsewhere.erased_at) == (now, now, None)
