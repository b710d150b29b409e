"""Sending what waits in the outbox."""

from celery import shared_task
from django.utils import timezone

from followup.services import messages


@shared_task
def deliver() -> None:
    """Send what may go now; a message goes once, however often this runs."""
    messages.deliver_waiting(now=timezone.now())
