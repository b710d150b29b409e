from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.utils import timezone

from followup.services import uploads
from followup.services.uploads import Upload
from followup.tasks.uploads import forget
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept(settings: Any, tmp_path: Any) -> Upload:
    settings.MEDIA_ROOT = tmp_path
    content = ContentFile(b"a,b\n")
    return uploads.keep_upload(
        content=content, name="cases.csv", site=builders.site(), day_first=False
    )


def test_the_task_forgets_old_files_by_the_clock(kept: Upload) -> None:
    forget()
    assert uploads.kept_upload(kept.token, [kept.site]) == kept
    with time_machine.travel(timezone.now() + timedelta(days=2), tick=False):
        forget()
    assert uploads.kept_upload(kept.token, [kept.site]) is None


def test_the_command_says_how_many_files_went(kept: Upload) -> None:
    out = StringIO()
    with time_machine.travel(timezone.now() + timedelta(days=2), tick=False):
        call_command("forget_uploads", stdout=out)
        call_command("forget_uploads", stdout=out)
    assert out.getvalue() == "1 files deleted.\n0 files deleted.\n"
