"""The shared room as a Django application."""

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    """Registers the shared templates, commands and checks."""

    name = "config"

    def ready(self) -> None:
        """Name the Celery application, so that pages reach its broker, add the checks, hear who comes."""
        from config import celery, checks  # noqa: F401, PLC0415 - both register themselves
        from config.sign_in import accounts, factors, sessions  # noqa: F401, PLC0415 - importing connects them
