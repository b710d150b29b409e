"""Keeping an encrypted copy of everything, every night, where a folder and a public key are set."""

from datetime import date, datetime, timedelta
from pathlib import Path

from celery import shared_task
from django.conf import settings

from config.copies import shelf, writing
from registry.services import jobs
from registry.tasks.jobs import job


@shared_task
@job("keep_copy", lease=timedelta(hours=12))
def keep(now: datetime, today: date) -> dict[str, int]:
    """Copy the database and the files beside it; old copies go."""
    if not shelf.is_set_up():
        return {"copies, since no folder or no key is set": 0}
    kept = writing.keep_copy(
        folder=Path(settings.COPIES_DIR),
        recipients=settings.COPIES_FOR,
        now=now,
        keep=settings.COPIES_KEPT,
        progress=lambda what, done: jobs.beat(),
    )
    return writing.counted(kept)
