"""Raising the question of removal."""

from celery import shared_task
from django.utils import timezone

from followup.services import hardware
from registry.services.background import background_person


@shared_task
def prompt() -> None:
    """Raise planned removals whose time has come; asking twice raises once."""
    hardware.raise_planned_removals(
        by=background_person(), now=timezone.now(), today=timezone.localdate()
    )
