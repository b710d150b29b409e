"""Asking patients at home."""

from celery import shared_task
from django.utils import timezone

from followup.services import invitations


@shared_task
def invite() -> None:
    """Invite where a window has opened and remind where nobody answered; twice equals once."""
    invitations.invite_patients(now=timezone.now())
