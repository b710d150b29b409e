"""Making the packs of figures that somebody asked for."""

from datetime import date, datetime

from celery import shared_task

from analytics.services import packs
from registry.tasks.jobs import job


@shared_task
@job("make_pack")
def make(now: datetime, today: date) -> dict[str, int]:
    """Make every pack that waits; one that is ready is left as it is."""
    return packs.make_waiting(now=now, today=today)
