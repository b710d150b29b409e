"""A missed night is made up for, once."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from celery import current_app

from config import catching_up
from config.beat import SCHEDULE
from registry.models import JobLock, JobRun
from registry.services import jobs

pytestmark = pytest.mark.usefixtures("defaults")
NIGHTLY = [entry for entry in SCHEDULE if entry.at is not None]
MORNING = datetime(2026, 3, 5, 7, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def every_task_is_known() -> None:
    current_app.loader.import_default_modules()


def names(now: datetime) -> list[str]:
    return [entry.task for entry in catching_up.owed(now)]


def caught_up(now: datetime) -> dict[str, int]:
    with time_machine.travel(now, tick=False):
        return catching_up.catch_up(now=now)


def test_what_never_ran_is_owed_and_runs_once() -> None:
    assert len(NIGHTLY) >= 3
    assert names(MORNING) == [entry.task for entry in NIGHTLY]
    assert caught_up(MORNING)["missed nights made up"] == len(NIGHTLY)
    assert caught_up(MORNING) == {"missed nights made up": 0, "left to another run": 0, "failed": 0}


def test_a_night_is_owed_only_when_its_hour_has_come() -> None:
    caught_up(MORNING)
    evening = MORNING.replace(hour=23)
    assert names(evening) == []
    before = MORNING.replace(hour=0, minute=30) + timedelta(days=1)
    assert names(before) == []
    after = MORNING.replace(hour=1, minute=15) + timedelta(days=1)
    assert names(after) == ["followup.tasks.planning.sweep"]


def test_three_missed_nights_are_made_up_by_one_run_of_each() -> None:
    caught_up(MORNING)
    back = MORNING + timedelta(days=3)
    assert caught_up(back)["missed nights made up"] == len(NIGHTLY)
    days = JobRun.objects.filter(job="sweep_reviews").values_list("for_day", flat=True)
    assert sorted(days) == [date(2026, 3, 5), date(2026, 3, 8)]


def test_a_night_that_failed_is_tried_again_within_the_hour_but_not_at_every_look(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    caught_up(MORNING)

    def broken(**given: Any) -> None:
        raise OSError("no space left")

    next_day = MORNING + timedelta(days=1)
    with monkeypatch.context() as patch:
        patch.setattr("followup.services.sweeping.sweep", broken)
        found = caught_up(next_day)
    assert (found["failed"], found["missed nights made up"]) == (1, len(NIGHTLY) - 1)
    assert "no space left" in JobLock.objects.get(job="sweep_reviews").last_fault.fault
    assert names(next_day + timedelta(minutes=10)) == []
    assert caught_up(next_day + timedelta(hours=1))["missed nights made up"] == 1


def test_a_night_that_died_is_made_up_when_its_hold_has_run_out() -> None:
    caught_up(MORNING)
    next_day = MORNING + timedelta(days=1)
    jobs._begin("sweep_reviews", next_day, alone=True, lease=jobs.LEASE)
    assert caught_up(next_day)["left to another run"] == 1
    later: Callable[[], dict[str, int]] = lambda: caught_up(next_day + timedelta(minutes=11))  # noqa: E731
    assert later()["missed nights made up"] == 1
    assert later()["missed nights made up"] == 0
