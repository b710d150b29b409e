"""Looking through the running charts every night."""

from datetime import date, datetime

from celery import shared_task

from analytics.services import charts
from registry.tasks.jobs import job


@shared_task
@job("watch_charts")
def watch(now: datetime, today: date) -> dict[str, int]:
    """Let every chart take in what has settled, and open its signals; doing it twice changes nothing."""
    return charts.watch(now=now, today=today)
