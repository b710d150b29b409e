"""Clearing away what was sent and not imported."""

from datetime import date, datetime

from celery import shared_task

from followup.services import uploads
from registry.tasks.jobs import job


@shared_task
@job("forget_uploads")
def forget(now: datetime, today: date) -> dict[str, int]:
    """Delete the files of cases that were sent more than a week ago."""
    return {"files deleted": uploads.forget_old(now=now)}
