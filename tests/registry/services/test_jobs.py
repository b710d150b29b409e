"""A job is held by one run at a time, written down, and its death is noticed."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import JobLock, JobRun
from registry.services import jobs
from tests.builders import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def beats_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "BEAT_SECONDS", 0.0)


def nothing() -> None:
    return None


def test_a_run_is_written_down_with_what_it_counted() -> None:
    run = jobs.run_job("sweep", lambda: {"reviews lapsed": 3}, now=NOW)
    kept = JobRun.objects.get()
    assert (
        (kept.outcome, kept.counts) == ("good", {"reviews lapsed": 3}) == (run.outcome, run.counts)
    )
    assert (kept.started_at, kept.for_day) == (NOW, NOW.date())
    assert kept.finished_at is not None
    lock = JobLock.objects.get(job="sweep")
    assert (lock.holder, lock.until, lock.last_run, lock.last_good) == ("", None, kept, kept)


def test_what_is_counted_may_be_a_number_or_a_dataclass() -> None:
    @dataclass
    class Swept:
        moved_away: int

    assert jobs.run_job("a", lambda: 4, now=NOW).counts == {"done": 4}
    assert jobs.run_job("a", lambda: Swept(2), now=NOW).counts == {"moved away": 2}
    assert jobs.run_job("a", nothing, now=NOW).counts == {}


def test_a_job_that_is_held_is_not_run_a_second_time() -> None:
    inner: list[JobRun] = []

    def work() -> None:
        inner.append(jobs.run_job("sweep", lambda: pytest.fail("ran twice"), now=NOW))

    assert jobs.run_job("sweep", work, now=NOW).outcome == "good"
    assert [run.outcome for run in inner] == ["busy"]
    assert JobRun.objects.count() == 1


def test_another_job_runs_beside_it_and_so_does_one_that_bears_company() -> None:
    def work() -> None:
        assert jobs.run_job("prompt", nothing, now=NOW).outcome == "good"

    assert jobs.run_job("sweep", work, now=NOW).outcome == "good"

    def together() -> None:
        assert jobs.run_job("deliver", nothing, now=NOW, alone=False).outcome == "good"

    assert jobs.run_job("deliver", together, now=NOW, alone=False).outcome == "good"


def test_a_fault_is_written_down_and_the_job_is_free_again() -> None:
    def work() -> None:
        raise BadInput("The protocol has no steps.")

    assert jobs.run_job("sweep", nothing, now=NOW).outcome == "good"
    failed = jobs.run_job("sweep", work, now=NOW + timedelta(hours=1))
    assert (failed.outcome, failed.fault) == ("failed", "The protocol has no steps.")
    lock = JobLock.objects.get()
    assert lock.last_fault == lock.last_run == failed
    assert lock.last_good is not None
    assert lock.last_good != failed
    assert jobs.run_job("sweep", nothing, now=NOW + timedelta(hours=2)).outcome == "good"


def test_an_unexpected_fault_is_named_by_its_place_and_not_by_what_it_carries() -> None:
    def work() -> None:
        raise KeyError("Ada Example")

    fault = jobs.run_job("sweep", work, now=NOW).fault
    assert fault.startswith("KeyError (test_jobs.py, line ")
    assert "Ada" not in fault


def test_a_run_that_is_stopped_lets_go_of_its_job() -> None:
    def work() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        jobs.run_job("sweep", work, now=NOW)
    assert JobRun.objects.get().fault == "it was stopped before its end"
    assert JobLock.objects.get().holder == ""


@pytest.fixture
def killed() -> JobRun:
    """Leave behind what a killed process leaves: a run without an end, and its hold on the job."""
    begun = jobs._begin("sweep", NOW, alone=True, lease=jobs.LEASE)
    assert begun is not None
    return JobRun.objects.get()


def test_a_dead_run_holds_its_job_until_its_lease_is_over_and_is_then_buried(
    killed: JobRun,
) -> None:
    early = jobs.run_job("sweep", nothing, now=NOW + jobs.LEASE)
    assert early.outcome == "busy"
    late = jobs.run_job("sweep", nothing, now=NOW + jobs.LEASE + timedelta(seconds=1))
    assert late.outcome == "good"
    killed.refresh_from_db()
    assert (killed.outcome, killed.fault) == ("died", jobs.SILENT)
    assert JobLock.objects.get().last_fault == killed


def test_a_beat_keeps_the_hold_and_counts_the_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [0.0]
    monkeypatch.setattr(jobs.time, "monotonic", lambda: clock[0])

    def work() -> None:
        clock[0] = jobs.LEASE.total_seconds() - 1
        jobs.beat(5)
        assert jobs.run_job("sweep", nothing, now=NOW + jobs.LEASE * 1.5).outcome == "busy"

    run = jobs.run_job("sweep", work, now=NOW)
    assert (run.outcome, run.steps) == ("good", 5)
    assert run.took == timedelta(seconds=clock[0])


def test_a_run_that_was_silent_too_long_stops_when_another_took_over() -> None:
    went_on: list[Any] = []

    def work() -> None:
        other = jobs.run_job("sweep", nothing, now=NOW + jobs.LEASE * 2)
        assert other.outcome == "good"
        jobs.beat()
        went_on.append(1)

    run = jobs.run_job("sweep", work, now=NOW)
    assert (run.outcome, went_on) == ("failed", [])
    assert "taken this job over" in run.fault
    assert JobRun.objects.get(pk=run.pk).outcome == "died"


def test_a_beat_outside_a_job_does_nothing_and_a_listener_hears_the_steps() -> None:
    jobs.beat(3)
    heard: list[int] = []
    with jobs.heard_by(heard.append):
        jobs.run_job("sweep", lambda: jobs.beat(7), now=NOW)
    assert heard == [7]


def test_old_runs_are_forgotten_but_for_the_newest_of_their_kind() -> None:
    def run_at(when: datetime) -> JobRun:
        return jobs.run_job("sweep", nothing, now=when)

    run_at(NOW - timedelta(days=40))
    newest = run_at(NOW - timedelta(days=35))
    assert jobs.forget_old(now=NOW) == 1
    assert jobs.forget_old(now=NOW) == 0
    assert JobRun.objects.get() == newest
