"""Keeping the reviews what they should be."""

from celery import shared_task
from django.utils import timezone

from followup.services import sweeping


@shared_task
def sweep() -> None:
    """Plan what is missing and let lapse what has closed; doing it twice changes nothing."""
    sweeping.sweep(now=timezone.now(), today=timezone.localdate())
