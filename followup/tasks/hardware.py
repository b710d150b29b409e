"""Asking about hardware: raised, come back, and not decided for too long."""

from datetime import date, datetime
from typing import Any

from celery import shared_task

from followup.services import hardware, removal_tasks
from registry.services.background import background_person
from registry.tasks.jobs import job


@shared_task
@job("raise_removals")
def prompt(now: datetime, today: date) -> dict[str, int]:
    """Ask what is to be asked about hardware today; asking twice asks once.

    Planned removals whose time has come are raised, deferred questions come back on their day, and
    the coordinator is told of those that nobody decides.
    """
    at: dict[str, Any] = {"by": background_person(), "now": now, "today": today}
    return {
        "questions raised": hardware.raise_planned_removals(**at),
        "deferred questions back": hardware.bring_back_deferred(**at),
        "tasks for questions that wait": removal_tasks.open_for_ignored(**at),
    }
