from io import StringIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.utils import timezone

from followup.models.imports import DraftState, ImportDraft
from followup.services import uploads
from followup.tasks.imports import work
from tests import builders
from tests.followup.case_files import case, file_of
from tests.followup.sent_files import connie

pytestmark = pytest.mark.usefixtures("defaults")


def kept(settings: Any, folder: Any) -> None:
    settings.MEDIA_ROOT = folder
    content = ContentFile(file_of(case(1)).getvalue())
    uploads.keep_upload(
        content=content, name="cases.csv", site=builders.site(), by=connie(), now=timezone.now()
    )


def test_the_task_goes_on_with_what_waits(settings: Any, tmp_path: Any) -> None:
    kept(settings, tmp_path)
    assert work()["said"] == "1 files worked on."
    assert ImportDraft.objects.get().state == DraftState.CHECKED


def test_the_command_does_the_same(settings: Any, tmp_path: Any) -> None:
    kept(settings, tmp_path)
    out = StringIO()
    call_command("work_on_imports", stdout=out)
    assert out.getvalue() == "1 files worked on.\n"
