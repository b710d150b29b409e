"""Weighing the cases whose films were read, and telling their surgeons."""

from datetime import date, datetime

from celery import shared_task
from django.utils import timezone

from analytics.services import alert_delivery, alert_mails, loss_alerts
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


@shared_task
@job("tell_surgeons")
def tell(now: datetime, today: date) -> dict[str, int]:
    """Tell surgeons of alerts by e-mail, each of them once; doing it twice changes nothing."""
    put = alert_mails.put_mails(now=now)
    return {"put into the outbox": put, **alert_delivery.deliver(now=now, clock=timezone.now)}
