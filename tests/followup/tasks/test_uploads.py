from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.utils import timezone

from followup.models.imports import ImportDraft
from followup.services import uploads
from followup.tasks.uploads import forget
from tests import builders
from tests.followup.sent_files import connie

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept(settings: Any, tmp_path: Any) -> ImportDraft:
    settings.MEDIA_ROOT = tmp_path
    content = ContentFile(b"a,b\n")
    return uploads.keep_upload(
        content=content, name="cases.csv", site=builders.site(), by=connie(), now=timezone.now()
    )


def test_the_task_forgets_old_files_by_the_clock(kept: ImportDraft) -> None:
    forget()
    assert uploads.kept_upload(kept.token, [kept.site]) == kept
    with time_machine.travel(timezone.now() + timedelta(days=8), tick=False):
        forget()
    assert uploads.kept_upload(kept.token, [kept.site]) is None


def test_the_command_says_how_many_files_went(kept: ImportDraft) -> None:
    out = StringIO()
    with time_machine.travel(timezone.now() + timedelta(days=8), tick=False):
        call_command("forget_uploads", stdout=out)
        call_command("forget_uploads", stdout=out)
    assert out.getvalue() == "1 files deleted.\n0 files deleted.\n"
