"""Every task is a job: it runs alone, by the clock of its moment, and is written down."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

from celery import shared_task
from django.utils import timezone

from registry.rules import job_words
from registry.services import jobs

Timed = Callable[[datetime, date], Any]


def job(
    name: str, *, alone: bool = True, lease: timedelta = jobs.LEASE
) -> Callable[[Timed], Callable[[], dict[str, str]]]:
    """Make work that takes the moment and the day into a task's body.

    `name` is also the name of the management command that runs it by hand. `alone` and `lease` as in
    `run_job`; work that cannot show life on its way needs a lease that outlasts it. The answer holds the outcome and a sentence.
    """

    def decorate(work: Timed) -> Callable[[], dict[str, str]]:
        def run() -> dict[str, str]:
            now = timezone.now()
            done = jobs.run_job(
                name,
                lambda: work(now, timezone.localdate(now)),
                now=now,
                alone=alone,
                lease=lease,
            )
            said = job_words.sentence(done.outcome, done.counts, done.fault)
            return {"job": name, "outcome": done.outcome, "said": said}

        # Celery names a task after its function, and looks at its arguments: those of `run`.
        run.__name__, run.__module__, run.__doc__ = work.__name__, work.__module__, work.__doc__
        run.job_name, run.work, run.lease = name, work, lease  # type: ignore[attr-defined]
        return run

    return decorate


@shared_task
@job("forget_job_runs")
def forget(now: datetime, today: date) -> dict[str, int]:
    """Delete what the background wrote down about itself more than a month ago."""
    return {"old runs forgotten": jobs.forget_old(now=now)}
