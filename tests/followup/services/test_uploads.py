"""A file that was sent is kept for a week, and found only at its own site."""

import io
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from followup.models.imports import DraftState, ImportDraft
from followup.services import uploads
from registry.errors import BadInput
from registry.models import Site
from tests import builders
from tests.followup.sent_files import connie

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
    ImportDraft.objects.update(state=DraftState.LANDING)
    assert uploads.forget_old(now=timezone.now() + timedelta(days=30)) == 0
    assert default_storage.exists(uploads.path_of(kept))


def test_nothing_kept_is_nothing_to_forget() -> None:
    builders.site()
    assert uploads.forget_old(now=timezone.now()) == 0


def test_a_file_that_nobody_wants_is_discarded_unless_it_is_being_worked_on() -> None:
    kept = keep()
    ImportDraft.objects.update(state=DraftState.SETTLING)
    path = uploads.path_of(kept)
    uploads.discard(kept)
    assert not default_storage.exists(path)
    uploads.discard(kept)
    assert not ImportDraft.objects.exists()
    for state in (DraftState.READING, DraftState.CHECKING, DraftState.LANDING):
        busy = keep()
        ImportDraft.objects.filter(pk=busy.pk).update(state=state)
        with pytest.raises(BadInput, match="being worked on"):
            uploads.discard(busy)


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
