"""The background work of the rehearsal: the schedule's own jobs, by the rehearsal's clock."""

from collections import Counter
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from celery import current_app
from django.utils import timezone

from config import catching_up, verifying
from config.beat import SCHEDULE, Entry
from followup.services import delivery
from registry.models.jobs import JobOutcome
from registry.services import jobs

# What the rehearsal is not about: figures, files, the background's own book-keeping.
LEFT_OUT = {
    *("refresh_snapshot", "catch_up", "seal_trail"),
    *(
        "forget_uploads",
        "forget_replies",
        "forget_job_runs",
        "forget_hospital_messages",
        "forget_sign_ins",
    ),
}


# What says each night how things stand, whether or not anything has changed.
TELLS = {"count_reviews", "anchor_trail", "verify_records"}
# The outbox asks the clock as it goes on; here a moment stands still.
BY_THE_CLOCK: dict[str, Callable[[datetime], Any]] = {
    "deliver_messages": lambda now: delivery.deliver_waiting(now=now, clock=lambda: now),
}


class Background:
    """Runs jobs and counts what they did."""

    def __init__(self) -> None:
        current_app.loader.import_default_modules()
        entries = [one for one in SCHEDULE if catching_up.job_name(one) not in LEFT_OUT]
        self.nightly = [one for one in entries if one.at is not None]
        self.by_day = [one for one in entries if one.at is None]
        self.counts: Counter[str] = Counter()

    def night(self, now: datetime) -> None:
        """Run every nightly job."""
        self._run(self.nightly, now)

    def night_again(self, now: datetime) -> int:
        """Run every nightly job a second time; return how much it found to do, which ought to be 0."""
        before = self.counts.total()
        self._run(self.nightly, now)
        return self.counts.total() - before

    def catch_up(self, now: datetime) -> int:
        """Run what missed nights owe; return how many jobs that were."""
        owed = [one for one in catching_up.owed(now) if one in self.nightly]
        self._run(owed, now)
        return len(owed)

    def daytime(self, now: datetime) -> None:
        """Run what runs all day long."""
        self._run(self.by_day, now)

    def _run(self, entries: Iterable[Entry], now: datetime) -> None:
        for entry in entries:
            run = jobs.run_job(catching_up.job_name(entry), _work(entry, now), now=now)
            if run.outcome != JobOutcome.GOOD:
                raise RuntimeError(f"{entry.name} on {now:%d %b %Y}: {run.outcome}, {run.fault}")
            if broken := verifying.worries(run.counts):
                raise RuntimeError(f"{entry.name} on {now:%d %b %Y}: {broken}")
            if run.job not in TELLS:
                self.counts.update(run.counts)


def _work(entry: Entry, now: datetime) -> Callable[[], Any]:
    job = catching_up.job_name(entry)
    if job in BY_THE_CLOCK:
        return lambda: BY_THE_CLOCK[job](now)
    work = current_app.tasks[entry.task].run.work
    return lambda: work(now, timezone.localtime(now).date())
