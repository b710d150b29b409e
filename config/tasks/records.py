"""Looking through the rules about the records, every night."""

from datetime import date, datetime, timedelta

from celery import shared_task

from config import verifying
from registry.services.invariants import Files, Looking
from registry.tasks.jobs import job


@shared_task
@job("verify_records", lease=timedelta(hours=12))
def verify(now: datetime, today: date) -> dict[str, int]:
    """Hold every record against every rule, and a share of the files against their hashes."""
    return verifying.counted(verifying.look_through(Looking(now, Files.SHARE)))
