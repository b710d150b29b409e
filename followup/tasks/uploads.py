"""Clearing away what was sent and not imported."""

from celery import shared_task
from django.utils import timezone

from followup.services import uploads


@shared_task
def forget() -> None:
    """Delete the files of cases that were sent more than a day ago."""
    uploads.forget_old(now=timezone.now())
