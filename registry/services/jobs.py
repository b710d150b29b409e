"""Running a job of the background: one holder at a time, each run written down, a death noticed.

A job is held by a row: a conditional update takes it for a lease, `beat` renews the lease while the
work goes on, and a holder that died lets it run out. This holds on every database alike, and needs no
connection to stay open.
"""

import logging
import time
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import asdict, is_dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django.db import DatabaseError, transaction
from django.db.models import Q
from django.utils import timezone

from registry.errors import HoldfastError
from registry.models.jobs import JobLock, JobOutcome, JobRun

LEASE = timedelta(minutes=10)
BEAT_SECONDS = 10.0
KEPT_DAYS = 30
SILENT = "it ended without a word: its process was killed, or the machine went down"
LOG = logging.getLogger(__name__)
Work = Callable[[], Any]


class LockLost(HoldfastError):
    """Another run took the job over, since this one had shown no life for longer than its lease."""


def run_job(
    name: str, work: Work, *, now: datetime, alone: bool = True, lease: timedelta = LEASE
) -> JobRun:
    """Do a job's work and write down how it went; never raises for a fault of the work.

    `work` returns what it counted: a mapping of words to numbers, a dataclass of numbers, or None.
    With `alone`, only one run at a time holds the job: where another does, nothing is done and the
    answer is an unsaved run with the outcome 'busy'. Without it the work must itself bear company.
    """
    running = _begin(name, now, alone=alone, lease=lease)
    if running is None:
        day = timezone.localtime(now).date()
        return JobRun(job=name, for_day=day, started_at=now, beat_at=now, outcome=JobOutcome.BUSY)
    token = _current.set(running)
    try:
        counts = _plain(work())
    except Exception as fault:
        LOG.exception("job %s failed", name)
        return running.end(JobOutcome.FAILED, fault=words_for(fault))
    except BaseException:
        running.end(JobOutcome.FAILED, fault="it was stopped before its end")
        raise
    finally:
        _current.reset(token)
    return running.end(JobOutcome.GOOD, counts=counts)


def beat(steps: int = 1) -> None:
    """Show that the work goes on, and by how many steps; nothing happens outside a job.

    To be called between transactions: what is written here must be seen by others at once.
    Raises LockLost when another run has taken the job over.
    """
    running = _current.get()
    if running is not None:
        running.beat(steps)


@contextmanager
def heard_by(listener: Callable[[int], object]) -> Iterator[None]:
    """Let somebody hear of every step of the jobs that are run inside, to show progress."""
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)


def forget_old(*, now: datetime) -> int:
    """Delete runs that ended long ago, but for the newest of their kind; return how many."""
    kept = JobLock.objects.values_list("last_run", "last_good", "last_fault")
    newest = {run for row in kept for run in row if run is not None}
    old = JobRun.objects.filter(finished_at__lt=now - timedelta(days=KEPT_DAYS))
    return old.exclude(pk__in=newest).delete()[0]


def words_for(fault: BaseException) -> str:
    """Say what went wrong and where, without what an unexpected fault may carry of a patient."""
    if isinstance(fault, HoldfastError):
        return str(fault)[:400]
    last = traceback.extract_tb(fault.__traceback__)[-1:]
    place = f" ({last[0].filename.rsplit('/', 1)[-1]}, line {last[0].lineno})" if last else ""
    told = ""
    if isinstance(fault, DatabaseError | OSError):
        # The lines after the first quote rows.
        told = f": {(str(fault).splitlines() or [''])[0]}"
    return f"{type(fault).__name__}{place}{told}"[:400]


def bury_all(*, now: datetime, because: str) -> int:
    """Write down that every run that was under way has ended, and let its job go; return how many.

    For a moment at which nothing can run, as after the records were put back from a copy.
    """
    with transaction.atomic():
        running = JobRun.objects.filter(outcome=JobOutcome.RUNNING)
        buried = running.update(outcome=JobOutcome.DIED, finished_at=now, fault=because[:400])
        JobLock.objects.exclude(holder="").update(holder="", until=None)
    return buried


class _Running:
    """A run under way; its clock is the moment that it was given and what has passed since."""

    def __init__(self, run: JobRun, *, alone: bool, lease: timedelta) -> None:
        self._run, self._alone, self._lease = run, alone, lease
        self._began = self._last = time.monotonic()
        self._outer = _current.get()

    def beat(self, steps: int) -> None:
        self._run.steps += steps
        listener = _listener.get()
        if listener is not None:
            listener(steps)
        if time.monotonic() - self._last < BEAT_SECONDS:
            return
        self._last = time.monotonic()
        self._renew()
        if self._outer is not None:
            self._outer.beat(0)

    def _renew(self) -> None:
        now = self._now()
        JobRun.objects.filter(pk=self._run.pk).update(beat_at=now, steps=self._run.steps)
        if self._alone:
            held = JobLock.objects.filter(job=self._run.job, holder=self._run.holder)
            if not held.update(until=now + self._lease):
                raise LockLost("Another run has taken this job over; this one had been silent.")

    def end(
        self, outcome: str, *, counts: Mapping[str, Any] | None = None, fault: str = ""
    ) -> JobRun:
        run = self._run
        run.beat_at = run.finished_at = self._now()
        run.outcome, run.counts, run.fault = outcome, dict(counts or {}), fault
        with transaction.atomic():
            # One that was given up for dead by another run stays dead.
            standing = JobRun.objects.filter(pk=run.pk, outcome=JobOutcome.RUNNING)
            standing.update(
                beat_at=run.beat_at,
                finished_at=run.finished_at,
                outcome=outcome,
                steps=run.steps,
                counts=run.counts,
                fault=fault,
            )
            which = "last_good" if outcome == JobOutcome.GOOD else "last_fault"
            lock = JobLock.objects.filter(job=run.job)
            kept = lock.filter(holder=run.holder).update(
                last_run=run, holder="", until=None, **{which: run}
            )
            if not kept:
                lock.update(last_run=run, **{which: run})
        return run

    def _now(self) -> datetime:
        return self._run.started_at + timedelta(seconds=time.monotonic() - self._began)


_current: ContextVar[_Running | None] = ContextVar("current", default=None)
_listener: ContextVar[Callable[[int], object] | None] = ContextVar("listener", default=None)


def _begin(name: str, now: datetime, *, alone: bool, lease: timedelta) -> _Running | None:
    holder = uuid4().hex
    if not JobLock.objects.filter(job=name).exists():
        JobLock.objects.get_or_create(job=name)
    with transaction.atomic():
        if alone:
            free = JobLock.objects.filter(Q(holder="") | Q(until__lt=now), job=name)
            if not free.update(holder=holder, until=now + lease):
                return None
        _bury(name, now, lease)
        run = JobRun.objects.create(
            job=name,
            holder=holder,
            for_day=timezone.localtime(now).date(),
            started_at=now,
            beat_at=now,
        )
        JobLock.objects.filter(job=name).update(last_run=run)
    return _Running(run, alone=alone, lease=lease)


def _bury(name: str, now: datetime, lease: timedelta) -> None:
    """Write down the death of runs that were silent for longer than the lease."""
    for run in JobRun.objects.filter(job=name, outcome=JobOutcome.RUNNING, beat_at__lt=now - lease):
        JobRun.objects.filter(pk=run.pk, outcome=JobOutcome.RUNNING).update(
            outcome=JobOutcome.DIED, finished_at=now, fault=SILENT
        )
        JobLock.objects.filter(job=name).update(last_fault=run)


def _plain(counted: Any) -> dict[str, Any]:
    if counted is None:
        return {}
    if is_dataclass(counted) and not isinstance(counted, type):
        return {name.replace("_", " "): number for name, number in asdict(counted).items()}
    if isinstance(counted, Mapping):
        return dict(counted)
    return {"done": counted}
