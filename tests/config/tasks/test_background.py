from datetime import UTC, datetime

import pytest
import time_machine
from celery import current_app

from config.tasks.background import catch_up
from registry.models import JobRun


@pytest.mark.usefixtures("defaults")
def test_the_task_makes_up_for_missed_nights_and_twice_equals_once() -> None:
    current_app.loader.import_default_modules()
    with time_machine.travel(datetime(2026, 3, 5, 9, 0, tzinfo=UTC), tick=False):
        assert not catch_up()["said"].startswith("0 missed nights made up")
        assert catch_up()["said"].startswith("0 missed nights made up")
    assert JobRun.objects.filter(job="sweep_reviews", outcome="good").count() == 1
