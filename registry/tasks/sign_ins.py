"""Letting go of what the watch over the door has written down, and of sessions that are over."""

from datetime import date, datetime

from celery import shared_task

from registry.services import sessions, sign_ins
from registry.tasks.jobs import job


@shared_task
@job("forget_sign_ins")
def forget(now: datetime, today: date) -> dict[str, int]:
    """Delete counts of failed tries, old events, and what is left of sessions that have run out."""
    tries, events = sign_ins.forget_old(now=now)
    return {
        "counts of tries": tries,
        "old events": events,
        "sessions that had ended": sessions.forget_ended(now=now),
    }
