"""Running what a night left undone."""

from datetime import date, datetime

from celery import shared_task

from config import catching_up
from registry.tasks.jobs import job


@shared_task
@job("catch_up", alone=False)
def catch_up(now: datetime, today: date) -> dict[str, int]:
    """Run each nightly job whose last good run lies before the night that is owed."""
    return catching_up.catch_up(now=now)
