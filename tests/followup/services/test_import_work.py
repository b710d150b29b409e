"""Files that wait are worked on, each by one worker, and a fault is kept in words."""

from typing import Any

import pytest
from django.core.files.base import ContentFile

from followup.models.imports import DraftState, ImportDraft
from followup.services import import_drafts, import_work, uploads
from registry.services import jobs
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case, file_of
from tests.followup.sent_files import connie, sent

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def kept(content: bytes) -> ImportDraft:
    return uploads.keep_upload(
        content=ContentFile(content), name="a.csv", site=builders.site(), by=connie(), now=NOW
    )


def test_every_file_that_waits_is_gone_on_with() -> None:
    for number in (1, 2):
        kept(file_of(case(number)).getvalue())
    assert import_work.work_waiting(now=NOW, today=TODAY) == {"files worked on": 2}
    assert set(ImportDraft.objects.values_list("state", flat=True)) == {DraftState.CHECKED}
    assert import_work.work_waiting(now=NOW, today=TODAY) == {"files worked on": 0}


def test_what_cannot_be_read_is_kept_as_the_files_fault_and_not_tried_again() -> None:
    draft = sent(b"a,b\n")
    assert draft.fault == "The file names its columns and holds no row below them."
    assert not draft.at_work
    assert import_work.work_waiting(now=NOW, today=TODAY) == {"files worked on": 0}


def test_a_file_is_let_go_when_its_work_is_done() -> None:
    draft = sent(file_of(case(1)).getvalue())
    assert (draft.holder, draft.held_until) == ("", None)


def test_the_job_hears_of_its_steps() -> None:
    heard: list[int] = []
    kept(file_of(case(1)).getvalue())
    with jobs.heard_by(heard.append):
        done = jobs.run_job(
            "work_on_imports",
            lambda: import_work.work_waiting(now=NOW, today=TODAY),
            now=NOW,
            alone=False,
        )
    assert done.counts == {"files worked on": 1}
    assert heard


def test_a_file_that_fails_unforeseen_keeps_no_other_file_waiting(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bad, good = (kept(file_of(case(number)).getvalue()) for number in (1, 2))
    read = import_drafts.look_through

    def look_through(draft: ImportDraft, beat: import_drafts.Beat) -> None:
        if draft.pk == bad.pk:
            raise ValueError("Anders, Mila")
        read(draft, beat)

    monkeypatch.setattr(import_drafts, "look_through", look_through)
    assert import_work.work_waiting(now=NOW, today=TODAY) == {"files worked on": 2}
    bad.refresh_from_db()
    good.refresh_from_db()
    assert "could not go on with this file (ValueError (test_import_work.py, line" in bad.fault
    assert "Mila" not in bad.fault
    assert (bad.holder, good.state) == ("", DraftState.CHECKED)


def test_a_job_that_was_taken_over_stops_and_blames_no_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    draft = kept(file_of(case(1)).getvalue())

    def lost(steps: int = 1) -> None:
        raise jobs.LockLost("another run")

    monkeypatch.setattr(jobs, "beat", lost)
    with pytest.raises(jobs.LockLost):
        import_work.work_waiting(now=NOW, today=TODAY)
    draft.refresh_from_db()
    assert draft.fault == ""
