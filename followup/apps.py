"""The follow-up as a Django application."""

from django.apps import AppConfig


class FollowupConfig(AppConfig):
    """Registers the room and what it hears."""

    name = "followup"
    default_auto_field = "django.db.models.BigAutoField"
    # Its tables go into an archive of the service.
    is_room = True

    def ready(self) -> None:
        """Connect the receivers."""
        from followup import receivers  # noqa: F401, PLC0415 - importing connects them
