"""Counting how the reviews stand."""

from datetime import date, datetime

from celery import shared_task

from followup.services import sums
from registry.tasks.jobs import job


@shared_task
@job("count_reviews")
def count(now: datetime, today: date) -> dict[str, int]:
    """Count the reviews of every site by how they stand, once for each day."""
    done = sums.count_reviews(now=now, today=today)
    return {"sites counted": done.sites, "reviews": done.planned, "difference": done.difference}
