"""The registry as a Django application."""

from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate


class RegistryConfig(AppConfig):
    """Registers the room and keeps the audit triggers in place."""

    name = "registry"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Give SQLite its functions, and put triggers back after each migration."""
        from registry.services import triggers  # noqa: PLC0415 - needs the loaded models

        connection_created.connect(triggers.register_functions, dispatch_uid="trail-functions")
        post_migrate.connect(put_triggers_back, sender=None, dispatch_uid="trail-triggers")


def put_triggers_back(app_config: AppConfig, using: str, **kwargs: Any) -> None:
    """Install the triggers once every table exists, which is after the last room's migrations."""
    from registry.models import AuditEntry  # noqa: PLC0415 - needs the loaded models
    from registry.services import triggers  # noqa: PLC0415 - needs the loaded models

    connection = connections[using]
    if app_config.name != "registry":
        return
    tables = set(connection.introspection.table_names())
    wanted = {model._meta.db_table for model in triggers.audited_models()}
    if wanted <= tables and AuditEntry._meta.db_table in tables:
        triggers.install(connection)
