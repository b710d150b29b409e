"""Safety notices: whoever was written past the services is found, and tasks are as they should be."""

from datetime import date, datetime
from typing import Any

from celery import shared_task

from followup.services import notice_tasks
from registry.services import notice_matching
from registry.services.background import background_person
from registry.tasks.jobs import job


@shared_task
@job("match_safety_notices")
def match(now: datetime, today: date) -> dict[str, int]:
    """Hold every part against every notice in force again; doing it twice equals doing it once."""
    at: dict[str, Any] = {"by": background_person(), "now": now}
    return {
        "carriers found": notice_matching.match_all(**at),
        "tasks opened or closed": notice_tasks.sweep(**at),
    }
