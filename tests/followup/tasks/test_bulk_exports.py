from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from followup.models import BulkExport
from followup.services import bulk_exports
from followup.tasks.bulk_exports import forget, make
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def test_the_tasks_make_what_waits_and_forget_what_is_over(time_machine: Any) -> None:
    time_machine.move_to(NOW)
    lead = builders.person("lead", north="quality_lead")
    bulk_exports.ask(types=["Condition"], since=None, request="x", by=lead, now=NOW)
    assert "copies made" in make()["said"]
    assert BulkExport.objects.get().state == "ready"
    time_machine.move_to(NOW + timedelta(days=2))
    assert forget()["outcome"] == "good"
    assert not BulkExport.objects.exists()
