"""The registry room as a Django application."""

from django.apps import AppConfig


class RegistryConfig(AppConfig):
    """Registers the room with Django."""

    name = "registry"
    default_auto_field = "django.db.models.BigAutoField"
