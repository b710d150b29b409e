"""Deciding who cannot be reached."""

from datetime import date, datetime

from celery import shared_task

from followup.services import reaching
from registry.services.background import background_person
from registry.tasks.jobs import job


@shared_task
@job("decide_contact")
def decide(now: datetime, today: date) -> dict[str, int]:
    """Hold everybody who is due against their site's policy; deciding twice changes nothing."""
    done = reaching.decide_all(by=background_person(), now=now, today=today)
    return {"cannot be reached": done.lost, "back on the list": done.back}
