"""Asking patients at home."""

from datetime import date, datetime

from celery import shared_task

from followup.services import invitations
from registry.tasks.jobs import job


@shared_task
@job("invite_patients")
def invite(now: datetime, today: date) -> dict[str, int]:
    """Invite where a window has opened and remind where nobody answered; twice equals once."""
    done = invitations.invite_patients(now=now)
    return {"invited": done.invited, "reminded": done.reminded, "left unfinished": done.landed}
