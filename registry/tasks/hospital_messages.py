"""Letting go of what the hospital's system sent, when its days are over."""

from dataclasses import asdict
from datetime import date, datetime

from celery import shared_task

from registry.services import hospital_messages
from registry.tasks.jobs import job


@shared_task
@job("forget_hospital_messages")
def forget(now: datetime, today: date) -> dict[str, int]:
    """Let go of settled texts after the days of their site, and of notes about nobody of ours."""
    done = asdict(hospital_messages.forget_old(now=now))
    return {name.replace("_", " "): many for name, many in done.items()}
