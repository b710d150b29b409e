"""Letting go of what patients wrote back, after the days of their site."""

from datetime import date, datetime

from celery import shared_task

from followup.services import replies
from registry.tasks.jobs import job


@shared_task
@job("forget_replies")
def forget(now: datetime, today: date) -> dict[str, int]:
    """Blank answers that were seen to and are older than the rule of their site."""
    return {"answers blanked": replies.forget_old(now=now, today=today)}
