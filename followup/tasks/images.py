"""Clearing away files of films that nothing names."""

from datetime import date, datetime

from celery import shared_task

from followup.services import image_files
from registry.tasks.jobs import job


@shared_task
@job("sweep_film_files")
def sweep(now: datetime, today: date) -> dict[str, int]:
    """Delete the files that no image names, and those of images voided a month ago; measure the rest."""
    return {
        "files deleted": image_files.sweep_files(now=now),
        "files measured": image_files.measure_files(),
    }
