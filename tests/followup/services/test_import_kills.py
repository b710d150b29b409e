"""A worker that is really killed in the middle of an import has landed whole parts, and nothing twice."""

import os
import signal
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from followup.models.imports import ImportDraft
from followup.services import import_runs, import_work
from registry.models import ImportBatch, ImportRow, Patient, Procedure
from tests import builders, trailed
from tests.followup.case_files import case
from tests.followup.sent_files import connie, sent_ours

ROOT = Path(__file__).resolve().parents[3]
ROWS, PART = 24, 3
# Operations are written by the part; the worker is killed within the second part that it lands.
NTH = 2
# What the worker does, in small parts.
WORK = f"""
import django
django.setup()
from django.conf import settings
from django.utils import timezone
import sys
settings.MEDIA_ROOT = sys.argv[1]
from tests import dying
dying.at('INSERT INTO "registry_procedure"', {NTH})
from followup.services import import_checks, import_work
import_checks.CHUNK = {PART}
import_work.work_waiting(now=timezone.now(), today=timezone.localdate())
"""


def started(media: Path) -> "subprocess.Popen[bytes]":
    told = connection.settings_dict
    place = f"{told['USER']}:{told['PASSWORD']}@{told['HOST']}:{told['PORT'] or 5432}"
    given = {
        "HOLDFAST_DATABASE": f"postgres://{place}/{told['NAME']}",
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    return subprocess.Popen(
        [sys.executable, "-c", WORK, str(media)], cwd=ROOT, env={**os.environ, **given}
    )


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_each_row_lands_once_though_the_worker_is_killed_twice(
    settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    builders.load_defaults()
    draft = sent_ours(*(case(n) for n in range(1, ROWS + 1)))
    import_runs.start(draft, by=connie(), now=timezone.now())
    for landed in (PART, 2 * PART):
        assert started(tmp_path).wait(timeout=300) == -signal.SIGKILL
        assert ImportRow.objects.count() == landed
        assert Procedure.objects.count() == landed
        assert ImportBatch.objects.get().rows_landed == landed
        # What the killed worker held is free when its claim has run out.
        ImportDraft.objects.update(held_until=timezone.now() - timedelta(seconds=1))
    import_work.work(ImportDraft.objects.get(), now=timezone.now(), today=timezone.localdate())
    batch = ImportBatch.objects.get()
    assert (batch.state, batch.rows_landed, batch.rows_read) == ("done", ROWS, ROWS)
    assert Procedure.objects.count() == Patient.objects.count() == ROWS
    assert trailed.holds()
