"""A missed night is made up for, once."""

import os
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from celery import current_app
from django.db import transaction

from config import catching_up
from config.beat import SCHEDULE
from followup.models import HardwareDecision, Review
from followup.models.contacts import Unreachable
from registry.models import JobLock, JobRun
from registry.services import jobs
from tests import builders

pytestmark = pytest.mark.usefixtures("defaults")
ROOT = Path(__file__).resolve().parents[2]
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


def test_a_command_knows_every_job_without_a_worker() -> None:
    asks = "from config import beat, catching_up; print([catching_up.job_name(e) for e in beat.SCHEDULE])"
    words = [sys.executable, "-c", f"import django; django.setup(); {asks}"]
    found = {**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"}
    done = subprocess.run(words, cwd=ROOT, env=found, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    assert catching_up.job_name(NIGHTLY[0]) in done.stdout


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


def stands_after(nights: list[datetime]) -> dict[str, Any]:
    """Return what is there when the nightly jobs have run in these nights; then all is taken back."""
    with transaction.atomic():
        for night in nights:
            with time_machine.travel(night, tick=False):
                for entry in NIGHTLY:
                    assert current_app.tasks[entry.task]()["outcome"] == "good"
        found = {
            "reviews": list(
                Review.objects.order_by("pk").values_list(
                    "pk", "state", "proposed_on", "attended_on", "complete", "ended_because"
                )
            ),
            "questions": list(HardwareDecision.objects.values_list("procedure", "state")),
            "lost": list(Unreachable.objects.values_list("patient", "ended_on")),
            "lapsed": Review.objects.filter(state="lapsed").count(),
        }
        transaction.set_rollback(True)
    return found


def test_three_missed_nights_end_as_if_each_had_been_run() -> None:
    for days in range(4):
        # Two weeks and the window after them end on one night after the other.
        builders.procedure(performed_on=date(2026, 11, 4) + timedelta(days=days))
    plate = builders.procedure(performed_on=date(2026, 9, 5), construct={"construct_type": "HP"})
    first = datetime(2026, 11, 26, 1, 15, tzinfo=UTC)
    nights = [first + timedelta(days=number) for number in range(4)]
    each, missed = stands_after(nights), stands_after([nights[0], nights[-1]])
    assert each == missed
    assert stands_after(nights[:1])["lapsed"] < stands_after(nights[:2])["lapsed"] < each["lapsed"]
    assert each["questions"] == [(plate.pk, "raised")]
    assert stands_after(nights[:1])["questions"] == []
