"""Keeping a fresh snapshot at hand, so that a page costs the same however many cases there are."""

from datetime import date, datetime

from celery import shared_task

from analytics.services import snapshots
from registry.tasks.jobs import job


@shared_task
@job("refresh_snapshot")
def refresh(now: datetime, today: date) -> dict[str, object]:
    """Take a snapshot where the newest is out of date; doing it twice changes nothing."""
    newest = snapshots.refresh_stale(now=now, today=today)
    which = f"cases in snapshot {newest.content_hash[:12]}, data up to {newest.cutoff}"
    return {which: newest.row_counts["cases"]}
