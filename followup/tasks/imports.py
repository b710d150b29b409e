"""Going on with files of cases that were sent: reading, checking and landing them."""

from datetime import date, datetime

from celery import shared_task

from followup.services import import_work
from registry.tasks.jobs import job


@shared_task
@job("work_on_imports", alone=False)
def work(now: datetime, today: date) -> dict[str, int]:
    """Go on with every file that waits for it; each is held by one worker, however many run this."""
    return import_work.work_waiting(now=now, today=today)
