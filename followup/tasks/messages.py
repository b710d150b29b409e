"""Sending what waits in the outbox, and putting the reminders that fall due into it."""

from datetime import date, datetime

from celery import shared_task
from django.utils import timezone

from followup.services import delivery, reminders
from registry.tasks.jobs import job


@shared_task
@job("deliver_messages", alone=False)
def deliver(now: datetime, today: date) -> dict[str, int]:
    """Send what may go now; each message is claimed, so it goes once however many run this."""
    return delivery.deliver_waiting(now=now, clock=timezone.now)


@shared_task
@job("plan_reminders")
def remind(now: datetime, today: date) -> dict[str, int]:
    """Put the reminders that fall due into the outbox; doing it twice changes nothing."""
    return {"reminders put into the outbox": reminders.plan_reminders(now=now, today=today)}
