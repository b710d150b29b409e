"""Nights that were missed: what is owed of the schedule, and running it."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta

from celery import current_app
from django.utils import timezone

from config.beat import SCHEDULE, Entry
from registry.models.jobs import JobLock, JobOutcome
from registry.rules import job_words
from registry.selectors import jobs

# What failed is not tried at every look, but within the hour.
AGAIN_AFTER = timedelta(hours=1)


def catch_up(*, now: datetime) -> dict[str, int]:
    """Run, in the order of the schedule, each nightly job that owes a night; count them.

    One run makes up for every night since the last good one: the work looks at what is due by
    today, not at what one night would have brought.
    """
    done = {"missed nights made up": 0, "left to another run": 0, "failed": 0}
    words = {
        JobOutcome.GOOD: "missed nights made up",
        JobOutcome.BUSY: "left to another run",
        JobOutcome.FAILED: "failed",
    }
    for entry in list(owed(now)):
        answer = current_app.tasks[entry.task]()
        done[words[JobOutcome(answer["outcome"])]] += 1
    return done


def owed(now: datetime, kept: Mapping[str, JobLock] | None = None) -> Iterator[Entry]:
    """Return the nightly entries whose last good run lies before the night that is owed.

    `kept` are the jobs' locks where the caller has them already.
    """
    local = timezone.localtime(now)
    kept = jobs.locks() if kept is None else kept
    for entry in SCHEDULE:
        if entry.at is None:
            continue
        lock = kept.get(job_name(entry))
        if lock is not None and _is_paid(lock, job_words.day_owed(local, entry.at), now):
            continue
        yield entry


def job_name(entry: Entry) -> str:
    """Return the name of the job, and of the command, that an entry of the schedule runs."""
    if entry.task not in current_app.tasks:
        # A worker knows all tasks from its start; a command only those that something has imported.
        # Not each time: what is imported is checked whole.
        current_app.loader.import_default_modules()
    return str(current_app.tasks[entry.task].run.job_name)


def _is_paid(lock: JobLock, day: date, now: datetime) -> bool:
    if lock.last_good is not None and lock.last_good.for_day >= day:
        return True
    tried = lock.last_run
    return (
        tried is not None
        and tried.outcome == JobOutcome.FAILED
        and now - AGAIN_AFTER < tried.started_at <= now
    )
