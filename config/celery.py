"""The Celery application; its schedule is in config/beat.py."""

import os
import pkgutil
from pathlib import Path
from typing import Any

from celery import Celery
from celery.signals import task_postrun, worker_ready
from django.utils import timezone

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
ROOMS = ("registry", "followup", "analytics", "config")


def task_modules() -> list[str]:
    """Return the module of every subject that has background work."""
    top = Path(__file__).resolve().parent.parent
    return [
        f"{room}.tasks.{module.name}"
        for room in ROOMS
        for module in pkgutil.iter_modules([str(top / room / "tasks")])
    ]


app = Celery("holdfast")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(task_modules(), related_name=None)


@worker_ready.connect
@task_postrun.connect
def tell_health(**facts: Any) -> None:
    """Let the health page know that a worker works."""
    # Celery finds this module before Django's settings can be read.
    from config import health  # noqa: PLC0415

    health.note_work(timezone.now())


@worker_ready.connect
def catch_up_at_start(**facts: Any) -> None:
    """Ask for the nights that were missed while nothing ran."""
    app.send_task("config.tasks.background.catch_up")
