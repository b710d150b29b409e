"""Making the copies in FHIR that were asked for, and forgetting them a day later."""

from datetime import date, datetime

from celery import shared_task

from followup.services import bulk_exports
from registry.tasks.jobs import job


@shared_task
@job("make_bulk_exports")
def make(now: datetime, today: date) -> dict[str, int]:
    """Make every copy that waits; one that a dead worker left is gone on with."""
    return bulk_exports.make_waiting(now=now)


@shared_task
@job("forget_bulk_exports")
def forget(now: datetime, today: date) -> dict[str, int]:
    """Delete copies whose time is over, with their files."""
    return {"copies forgotten": bulk_exports.forget_old(now=now)}
