"""The Celery application of the killed workers: parts of an import so small that a kill falls between."""

import django

django.setup()

from config.celery import app  # noqa: E402 - after the models are there
from followup.services import import_checks  # noqa: E402

import_checks.CHUNK = 3

__all__ = ["app"]
