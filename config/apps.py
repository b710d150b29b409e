"""The shared room as a Django application."""

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    """Registers the shared templates, commands and checks."""

    name = "config"
