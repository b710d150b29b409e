"""The analytics room as a Django application."""

from django.apps import AppConfig


class AnalyticsConfig(AppConfig):
    """Registers the room with Django, and what it hears."""

    name = "analytics"
    default_auto_field = "django.db.models.BigAutoField"
    # Its tables go into an archive of the service.
    is_room = True

    def ready(self) -> None:
        """Connect the receivers."""
        from analytics import receivers  # noqa: F401, PLC0415 - importing connects them
