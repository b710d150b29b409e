"""What the background wrote down about itself."""

from datetime import datetime

from registry.models.audit import AuditEntry
from registry.models.jobs import JobLock, JobOutcome


def locks() -> dict[str, JobLock]:
    """Return who holds which job, with its last run, last good run and last fault, in one query."""
    rows = JobLock.objects.select_related("last_run", "last_good", "last_fault")
    return {row.job: row for row in rows}


def is_dead(lock: JobLock, now: datetime) -> bool:
    """Say whether a job is held by a run that has shown no life for longer than its lease."""
    return bool(lock.holder) and lock.until is not None and lock.until < now


def is_running(lock: JobLock) -> bool:
    """Say whether the last run of a job has not ended."""
    return lock.last_run is not None and lock.last_run.outcome == JobOutcome.RUNNING


def unsealed_since() -> datetime | None:
    """Return of when the oldest entry of the trail is that waits for its seal, None where none does."""
    rows = AuditEntry.objects.filter(position__isnull=True).order_by("id")
    return rows.values_list("at", flat=True).first()


def unsealed() -> int:
    """Return how many entries of the trail wait for their seal."""
    return AuditEntry.objects.filter(position__isnull=True).count()
