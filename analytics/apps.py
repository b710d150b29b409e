"""The analytics room as a Django application."""

from django.apps import AppConfig


class AnalyticsConfig(AppConfig):
    """Registers the room with Django."""

    name = "analytics"
    default_auto_field = "django.db.models.BigAutoField"
