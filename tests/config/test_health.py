"""The health page tells strangers whether the service works, and nothing else."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from celery import signals
from django.core.cache import cache
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone

from config import health
from config.celery import app

pytestmark = pytest.mark.django_db
WORKING = {"works": True, "database": "ok", "cache": "ok", "broker": "ok", "worker": "ok"}


@pytest.fixture(autouse=True)
def nobody_has_worked_yet() -> None:
    cache.delete(health.LAST_WORK)


def test_a_working_service_says_so_without_a_sign_in(client: Client) -> None:
    health.note_work(timezone.now())
    answer = client.get("/health/")
    assert (answer.status_code, answer.json()) == (200, WORKING)
    assert "no-store" in answer["Cache-Control"]


def test_a_worker_that_has_long_been_silent_is_late_while_pages_go_on(client: Client) -> None:
    health.note_work(timezone.now() - timedelta(minutes=4))
    answer = client.get("/health/")
    assert (answer.status_code, answer.json()) == (200, {**WORKING, "worker": "late"})


def test_a_worker_that_never_worked_is_late(client: Client) -> None:
    assert client.get("/health/").json()["worker"] == "late"


@pytest.mark.parametrize("signal", [signals.worker_ready, signals.task_postrun])
def test_a_worker_that_starts_or_ends_a_task_is_seen_to_work(client: Client, signal: Any) -> None:
    signal.send(sender="a worker")
    assert client.get("/health/").json()["worker"] == "ok"


def test_a_cache_that_is_down_makes_503_and_leaks_no_address(client: Client, settings: Any) -> None:
    settings.CACHES = {
        "default": {
            "BACKEND": "django.core.cache.backends.redis.RedisCache",
            "LOCATION": "unix:///nowhere/secret-place?db=1",
        }
    }
    answer = client.get("/health/")
    assert answer.status_code == 503
    assert answer.json() == {**WORKING, "works": False, "cache": "down", "worker": "unknown"}
    assert b"secret-place" not in answer.content


def test_a_database_that_is_down_makes_503(client: Client) -> None:
    def refused(*given: Any) -> None:
        raise OperationalError("no route to secret-place")

    with connection.execute_wrapper(refused):
        answer = client.get("/health/")
    assert answer.status_code == 503
    assert answer.json() == {**WORKING, "works": False, "database": "down", "worker": "unknown"}
    assert b"secret-place" not in answer.content


def test_a_broker_that_is_down_makes_503(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(app.conf, "broker_write_url", "redis://127.0.0.1:1/0")
    answer = client.get("/health/")
    assert answer.status_code == 503
    assert answer.json() == {**WORKING, "works": False, "broker": "down", "worker": "unknown"}


def test_nothing_can_be_posted_to_it(client: Client) -> None:
    assert client.post("/health/").status_code == 405


def test_the_time_of_the_last_work_is_kept_as_an_instant() -> None:
    moment = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
    health.note_work(moment)
    assert cache.get(health.LAST_WORK) == moment
