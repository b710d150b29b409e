"""The followup room as a Django application."""

from django.apps import AppConfig


class FollowupConfig(AppConfig):
    """Registers the room with Django."""

    name = "followup"
    default_auto_field = "django.db.models.BigAutoField"
