"""Keeping the reviews what they should be."""

from datetime import date, datetime

from celery import shared_task

from followup.services import sweeping
from registry.tasks.jobs import job


@shared_task
@job("sweep_reviews")
def sweep(now: datetime, today: date) -> dict[str, int]:
    """Plan what is missing and let lapse what has closed; doing it twice changes nothing."""
    done = sweeping.sweep(now=now, today=today)
    return {
        "operations planned": done.planned,
        "reviews moved": done.moved,
        "reviews lapsed": done.lapsed,
        "reviews completed": done.completed,
    }
