"""Sending what waits in the outbox."""

from datetime import date, datetime

from celery import shared_task

from followup.services import messages
from registry.tasks.jobs import job


@shared_task
@job("deliver_messages", alone=False)
def deliver(now: datetime, today: date) -> dict[str, int]:
    """Send what may go now; each message is claimed, so it goes once however many run this."""
    return messages.deliver_waiting(now=now)
