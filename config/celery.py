"""The Celery application; its schedule is in config/beat.py."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
app = Celery("holdfast")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["registry", "followup", "analytics"], related_name="tasks")
