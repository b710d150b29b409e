"""What a monitor may read, with its token alone: counts, and nothing of anybody."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from prometheus_client.parser import text_string_to_metric_families

from config import health
from registry.models.jobs import JobLock, JobOutcome, JobRun
from tests import builders, world
from tests.builders import NOW

pytestmark = pytest.mark.django_db
JOB = "plan_reminders"
TOKEN = "a-long-random-text-that-only-the-monitor-knows"


@pytest.fixture(autouse=True)
def nine_o_clock(settings: Any, time_machine: Any) -> None:
    settings.METRICS_TOKEN = TOKEN
    time_machine.move_to(NOW, tick=False)
    cache.delete(health.LAST_WORK)


def asked(client: Client, token: str = TOKEN) -> Any:
    return client.get("/metrics/", headers={"Authorization": f"Bearer {token}"})


def numbers(client: Client) -> dict[tuple[str, ...], float]:
    """Return our own numbers by name and label."""
    text = asked(client).content.decode()
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if sample.name.startswith("holdfast_")
    }


@pytest.mark.parametrize("token", ["", "another", TOKEN[:-1], f"{TOKEN}x", "ü"])
def test_without_the_token_it_is_not_there(client: Client, token: str) -> None:
    assert asked(client, token).status_code == 404


def test_without_a_token_set_nobody_reads_it(client: Client, settings: Any) -> None:
    settings.METRICS_TOKEN = ""
    assert asked(client, "").status_code == 404
    assert asked(client).status_code == 404


def test_a_job_that_failed_is_told_until_it_goes_well(client: Client) -> None:
    run = JobRun.objects.create(
        job=JOB,
        started_at=NOW - timedelta(hours=2),
        beat_at=NOW - timedelta(hours=2),
        finished_at=NOW - timedelta(hours=2),
        for_day=NOW.date(),
        outcome=JobOutcome.FAILED,
        fault="ValueError",
    )
    lock = JobLock.objects.create(job=JOB, last_run=run, last_fault=run)
    assert numbers(client)["holdfast_job_failed", JOB] == 1
    good = JobRun.objects.create(
        job=JOB,
        started_at=NOW - timedelta(hours=1),
        beat_at=NOW - timedelta(hours=1),
        finished_at=NOW - timedelta(hours=1),
        for_day=NOW.date(),
        outcome=JobOutcome.GOOD,
    )
    lock.last_run = lock.last_good = good
    lock.save()
    found = numbers(client)
    assert found["holdfast_job_failed", JOB] == 0
    when = found["holdfast_job_last_good_timestamp_seconds", JOB]
    assert when == good.started_at.timestamp()


def test_how_the_work_stands_is_counted(client: Client) -> None:
    health.note_work(NOW)
    found = numbers(client)
    assert found["holdfast_worker_last_work_timestamp_seconds",] == NOW.timestamp()
    assert found["holdfast_queue",] >= 0
    assert found["holdfast_messages", "failed"] == 0


def test_it_names_nobody_and_asks_as_little_for_many_as_for_one(client: Client) -> None:
    builders.load_defaults()
    world.one_of_each("north")
    asked(client)
    with CaptureQueriesContext(connection) as queries:
        text = asked(client).content.decode()
    who = world.WHO["north"]
    for word in (who["family_name"], who["given_name"], who["phone"], "north"):
        assert word not in text
    assert len(queries) <= 8
