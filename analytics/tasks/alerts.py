"""Weighing the cases whose films were read, and those about which somebody was warned."""

from datetime import date, datetime

from celery import shared_task

from analytics.services import loss_alerts
from registry.tasks.jobs import job


@shared_task
@job("weigh_readings")
def weigh(now: datetime, today: date) -> dict[str, int]:
    """Judge every case that something changed about, and raise or take back its alert."""
    return loss_alerts.weigh_marked(now=now, today=today)


@shared_task
@job("weigh_alerts_again")
def weigh_again(now: datetime, today: date) -> dict[str, int]:
    """Judge every case about which an alert stands once more: a film or an injury may be corrected."""
    loss_alerts.mark_standing(now=now)
    return loss_alerts.weigh_marked(now=now, today=today)
