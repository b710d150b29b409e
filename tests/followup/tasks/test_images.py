from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.utils import timezone

from followup.exchange import film_store
from followup.tasks.images import sweep

pytestmark = pytest.mark.django_db


def test_the_task_and_the_command_clear_away_by_the_clock() -> None:
    name = film_store.put(ContentFile(b"a row never came"))
    sweep()
    assert name in dict(film_store.kept())
    out = StringIO()
    with time_machine.travel(timezone.now() + timedelta(days=2), tick=False):
        sweep()
        assert name not in dict(film_store.kept())
        call_command("sweep_film_files", stdout=out)
    assert out.getvalue() == "0 files deleted, 0 files measured.\n"
