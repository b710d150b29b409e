"""The Celery application; its schedule is in config/beat.py."""

import logging.config
import os
import pkgutil
from pathlib import Path
from typing import Any

from celery import Celery
from celery.signals import beat_init, celeryd_init, setup_logging, task_postrun, worker_ready
from django.utils import timezone
from django_structlog.celery.steps import DjangoStructLogInitStep

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


@setup_logging.connect
def write_as_the_service_does(**facts: Any) -> None:
    """Let worker and schedule write their log as the web server does, cleared of what must not stand there."""
    from django.conf import settings  # noqa: PLC0415

    logging.config.dictConfig(settings.LOGGING)


# A task carries the number of the request that asked for it into the worker's log.
app.steps["worker"].add(DjangoStructLogInitStep)
app.autodiscover_tasks(task_modules(), related_name=None)


@celeryd_init.connect
@beat_init.connect
def refuse_unsafe_settings(**facts: Any) -> None:
    """Let no worker and no schedule start in production with settings that are not safe."""
    from django.conf import settings  # noqa: PLC0415

    from config import checks  # noqa: PLC0415

    checks.refuse_unsafe(settings)


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
