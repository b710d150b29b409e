"""A file that was sent is kept for a day, and found only at its own site."""

import io
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from followup.services import uploads
from followup.services.uploads import Upload
from registry.models import Site
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def keep(name: str = "cases.csv", site: Site | None = None, **how: Any) -> Upload:
    return uploads.keep_upload(
        content=ContentFile(b"a,b\n"),
        name=name,
        site=site or builders.site(),
        day_first=how.get("day_first", False),
    )


def test_a_kept_file_is_found_at_its_site_and_nowhere_else() -> None:
    north, south = builders.site("north"), builders.site("south")
    kept = keep(day_first=True)
    assert uploads.kept_upload(kept.token, [south, north]) == kept
    assert uploads.kept_upload(kept.token, [south]) is None
    assert uploads.kept_upload("none", [north]) is None
    with kept.open() as source:
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


def test_files_go_after_a_day() -> None:
    kept = keep()
    now = timezone.now()
    assert uploads.forget_old(now=now + timedelta(hours=23)) == 0
    assert uploads.forget_old(now=now + timedelta(hours=25)) == 1
    assert uploads.kept_upload(kept.token, [kept.site]) is None
    assert uploads.forget_old(now=now + timedelta(hours=25)) == 0


def test_nothing_kept_is_nothing_to_forget() -> None:
    builders.site()
    assert uploads.forget_old(now=timezone.now()) == 0
