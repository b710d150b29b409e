"""How the background work stands, for an administrator: last runs, next runs, what is stuck."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from celery import current_app
from django.contrib import messages as notes
from django.db.models import Count, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django_celery_beat.models import PeriodicTask
from kombu.exceptions import OperationalError
from redis.exceptions import RedisError

from config import catching_up, health, verifying
from config.beat import OURS, SCHEDULE, Entry
from config.copies import shelf
from followup.models import Message
from followup.models.messages import PARKED, MessageState
from followup.selectors.visible import visible
from registry.models.jobs import JobLock
from registry.rules import job_words
from registry.selectors import jobs
from registry.selectors.visible import Viewer, require

# As long as a carrier may take, and a little more.
SENDING_MINUTES = 30
QUEUE = "celery"
Unreachable = (OperationalError, RedisError, OSError)


@dataclass(frozen=True)
class JobLine:
    """One job as the page shows it; `fault` is what last went wrong, unless it has gone well since."""

    job: str
    words: str
    when: str
    lock: JobLock | None
    said: str
    took: str
    next_at: datetime | None
    fault: str
    stuck: str


@dataclass(frozen=True)
class Outbox:
    """How many messages wait, are being sent for too long, and wait for a person."""

    waiting: int
    stuck: int
    parked: int


def lines(now: datetime) -> list[JobLine]:
    """Return a line for each job of the schedule, in two queries."""
    current_app.loader.import_default_modules()
    kept = jobs.locks()
    off = set(
        PeriodicTask.objects.filter(description=OURS, enabled=False).values_list("name", flat=True)
    )
    owed = {catching_up.job_name(entry) for entry in catching_up.owed(now, kept)}
    return [
        _line(entry, kept.get(catching_up.job_name(entry)), owed, entry.name in off, now)
        for entry in SCHEDULE
    ]


def _line(entry: Entry, lock: JobLock | None, owed: set[str], off: bool, now: datetime) -> JobLine:
    name = catching_up.job_name(entry)
    last = lock.last_run if lock else None
    return JobLine(
        job=name,
        words=entry.name,
        when="switched off" if off else entry.in_words,
        lock=lock,
        said=job_words.sentence(last.outcome, last.counts, last.fault) if last else "",
        took=job_words.duration(last.took) if last else "",
        next_at=None if off else entry.next_after(timezone.localtime(now)),
        fault=_fault(lock),
        stuck=_stuck(lock, name in owed and not off, now),
    )


def _fault(lock: JobLock | None) -> str:
    if lock is None or lock.last_fault is None:
        return ""
    good = lock.last_good
    if good is not None and good.started_at > lock.last_fault.started_at:
        return ""
    return lock.last_fault.fault


def _stuck(lock: JobLock | None, owed: bool, now: datetime) -> str:
    if lock is not None and jobs.is_dead(lock, now):
        return "Its last run went silent while it held the job; the next run takes over."
    if lock is None or lock.last_run is None:
        return "It has never run." if owed else ""
    if owed and not jobs.is_running(lock):
        return "It owes a night; that is made up for within ten minutes while a worker works."
    return ""


def worker_state(rows: list[JobLine], now: datetime) -> str:
    """Say 'ok' when a worker has shown life of late, to the cache or by what runs every minute."""
    last = [row.lock.last_run.beat_at for row in rows if row.lock and row.lock.last_run]
    seen = max(last, default=None)
    if seen is not None and now - seen < health.LATE_AFTER:
        return "ok"
    return health.worker_state(now)


def queue_length() -> int | None:
    """Return how many tasks wait for a worker; None where the broker does not answer."""
    try:
        with current_app.connection_for_read(connect_timeout=2) as link:
            link.ensure_connection(max_retries=1, timeout=2)
            channel = link.default_channel
            found = channel.queue_declare(queue=QUEUE, passive=True)
            return int(found.message_count)
    except Unreachable:
        return None
    except link.channel_errors:
        # There is no queue before the first task was asked for.
        return 0


def outbox(user: Viewer, now: datetime) -> Outbox:
    """Count the messages of a person's sites that have not gone, in one query."""
    long_ago = now - timedelta(minutes=SENDING_MINUTES)
    counts = visible(user, Message, "set_up").aggregate(
        waiting=Count("pk", filter=Q(state=MessageState.WAITING, wanted_at__lte=now)),
        stuck=Count("pk", filter=Q(state=MessageState.SENDING, claimed_at__lt=long_ago)),
        parked=Count("pk", filter=Q(state__in=PARKED)),
    )
    return Outbox(**counts)


def concerns(rows: list[JobLine], worker: str, queue: int | None, now: datetime) -> Iterator[str]:
    """Return what somebody has to look at, in words; nothing when all goes well."""
    if queue is None:
        yield "The broker does not answer: nothing is handed to the workers. Start it again."
    if worker != "ok":
        yield (
            "No worker has shown life for three minutes: nothing runs. Start one "
            "(celery -A config.celery worker) and the schedule (beat)."
        )
    if old := shelf.concern(now):
        yield old
    for row in rows:
        if row.stuck:
            yield f"{row.words}: {row.stuck}"
        if row.fault:
            yield f"{row.words}: {row.fault}"
        if row.lock is not None and row.lock.last_good is not None:
            broken = verifying.worries(row.lock.last_good.counts)
            if broken:
                yield f"{row.words}: these rules are broken: {broken}"


@require_GET
def background(request: HttpRequest) -> HttpResponse:
    """Show each job, what is stuck, and how much waits."""
    require(request.user, "set_up")
    now = timezone.now()
    rows, queue = lines(now), queue_length()
    worker = worker_state(rows, now)
    known: dict[str, Any] = {
        "lines": rows,
        "queue": queue,
        "worker": worker,
        "unsealed": jobs.unsealed(),
        "newest_copy": shelf.state_in_words(now),
        "outbox": outbox(request.user, now),
        "concerns": list(concerns(rows, worker, queue, now)),
        "now": now,
    }
    return render(request, "background.html", known)


@require_POST
def run_now(request: HttpRequest, job: str) -> HttpResponse:
    """Ask a worker to run a job, as the schedule would."""
    require(request.user, "set_up")
    current_app.loader.import_default_modules()
    entry = next((one for one in SCHEDULE if catching_up.job_name(one) == job), None)
    if entry is None:
        raise Http404
    try:
        current_app.tasks[entry.task].apply_async(retry=False)
    except Unreachable:
        notes.error(request, f"{entry.name}: the broker does not answer, so no worker was asked.")
    else:
        notes.success(request, f"Asked for: {entry.name}. It runs as soon as a worker is free.")
    return redirect("background")
