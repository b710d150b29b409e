"""Drawing the films that are read twice."""

from datetime import date, datetime

from celery import shared_task

from followup.services import second_readings
from registry.services.background import background_person
from registry.tasks.jobs import job


@shared_task
@job("draw_second_readings")
def draw(now: datetime, today: date) -> second_readings.Drawn:
    """Want the second and third readings that the sites' policies ask for; twice equals once."""
    return second_readings.draw_all(by=background_person(), now=now)
