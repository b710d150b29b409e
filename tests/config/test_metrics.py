"""What a monitor may read, with its token alone: counts, and nothing of anybody."""

import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from prometheus_client.parser import text_string_to_metric_families

from config import health
from registry.models.audit import AuditEntry
from registry.models.jobs import JobLock, JobOutcome, JobRun
from registry.services import audit
from tests import builders, world
from tests.builders import NOW

pytestmark = pytest.mark.django_db
JOB = "plan_reminders"
ROOT = Path(__file__).resolve().parents[2]
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
    assert numbers(client)["holdfast_worker_last_work_timestamp_seconds",] == 0
    health.note_work(NOW)
    found = numbers(client)
    assert found["holdfast_worker_last_work_timestamp_seconds",] == NOW.timestamp()
    assert found["holdfast_queue",] >= 0
    assert found["holdfast_messages", "failed"] == 0


def test_what_waits_for_its_seal_tells_for_how_long(client: Client) -> None:
    audit.seal_all()
    assert numbers(client)["holdfast_trail_unsealed_seconds",] == 0
    at = NOW - timedelta(minutes=11)
    AuditEntry.objects.create(at=at, action="read", table="x", row_id="1")
    found = numbers(client)
    assert (found["holdfast_trail_unsealed",], found["holdfast_trail_unsealed_seconds",]) == (
        1,
        660,
    )


def test_broken_rules_and_copies_that_are_not_made_are_told(
    client: Client, settings: Any, tmp_path: Path
) -> None:
    assert numbers(client)["holdfast_rules_broken",] == 0
    # Also where nobody has set up any: an alert for none at all has to ring.
    assert numbers(client)["holdfast_copy_timestamp_seconds",] == 0
    good = JobRun.objects.create(
        job="verify_records",
        started_at=NOW,
        beat_at=NOW,
        finished_at=NOW,
        for_day=NOW.date(),
        outcome=JobOutcome.GOOD,
        counts={"rules that hold": 70, "breaches of trail_rows": 3, "breaches of trail_chain": 1},
    )
    JobLock.objects.create(job="verify_records", last_run=good, last_good=good)
    settings.COPIES_DIR, settings.COPIES_FOR = str(tmp_path), ["age1"]
    found = numbers(client)
    assert found["holdfast_rules_broken",] == 2
    assert found["holdfast_copy_timestamp_seconds",] == 0
    (tmp_path / "holdfast-20261124T040000Z.age").write_bytes(b"")
    assert numbers(client)["holdfast_copy_timestamp_seconds",] == 1795492800


def test_every_number_that_an_alert_asks_for_is_there(
    client: Client, settings: Any, tmp_path: Path
) -> None:
    settings.COPIES_DIR, settings.COPIES_FOR = str(tmp_path), ["age1"]
    health.note_work(NOW)
    good = JobRun.objects.create(
        job=JOB,
        started_at=NOW,
        beat_at=NOW,
        finished_at=NOW,
        for_day=NOW.date(),
        outcome=JobOutcome.GOOD,
    )
    JobLock.objects.create(job=JOB, last_run=good, last_good=good)
    text = asked(client).content.decode()
    page = (ROOT / "config" / "OPERATING.md").read_text()
    alerts = page.split("## What each alert means")[1].split("\n## ")[0]
    named = set(re.findall(r"\b(holdfast_[a-z_]+)\b", alerts))
    assert len(named) > 7
    assert [name for name in sorted(named) if f"# TYPE {name}" not in text] == []


def test_it_names_nobody_and_asks_as_little_for_many_as_for_one(client: Client) -> None:
    builders.load_defaults()
    world.one_of_each("north")
    asked(client)
    with CaptureQueriesContext(connection) as queries:
        text = asked(client).content.decode()
    who = world.WHO["north"]
    for word in (who["family_name"], who["given_name"], who["phone"], "north"):
        assert word not in text
    assert len(queries) <= 9
