"""Raising the question of removal."""

from datetime import date, datetime

from celery import shared_task

from followup.services import hardware
from registry.services.background import background_person
from registry.tasks.jobs import job


@shared_task
@job("raise_removals")
def prompt(now: datetime, today: date) -> dict[str, int]:
    """Raise planned removals whose time has come; asking twice raises once."""
    raised = hardware.raise_planned_removals(by=background_person(), now=now, today=today)
    return {"questions raised": raised}
