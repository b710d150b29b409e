"""The registry as a Django application."""

from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.db import connections
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate, pre_migrate


class RegistryConfig(AppConfig):
    """Registers the room and keeps the audit triggers in place."""

    name = "registry"
    default_auto_field = "django.db.models.BigAutoField"
    # Its tables go into an archive of the service.
    is_room = True

    def ready(self) -> None:
        """Give SQLite its functions, keep triggers out of a migration's way, connect the receivers."""
        from registry import receivers  # noqa: F401, PLC0415 - importing connects them
        from registry.services import triggers  # noqa: PLC0415 - needs the loaded models

        connection_created.connect(triggers.register_functions, dispatch_uid="trail-functions")
        pre_migrate.connect(take_triggers_off, sender=self, dispatch_uid="trail-triggers-off")
        post_migrate.connect(put_triggers_back, sender=None, dispatch_uid="trail-triggers")


def take_triggers_off(using: str, plan: list[Any], **kwargs: Any) -> None:
    """Take the triggers off where a migration is about to run; nothing else may lift them."""
    from registry.services import triggers  # noqa: PLC0415 - needs the loaded models

    if plan:
        triggers.remove_before_remake(connections[using])


def put_triggers_back(app_config: AppConfig, using: str, **kwargs: Any) -> None:
    """Install triggers and rights once every table exists, after the last room's migrations."""
    from registry.models import AuditEntry  # noqa: PLC0415 - needs the loaded models
    from registry.services import database_rights, triggers  # noqa: PLC0415 - as above

    connection = connections[using]
    if app_config.name != "registry":
        return
    tables = set(connection.introspection.table_names())
    wanted = {model._meta.db_table for model in triggers.audited_models()}
    if wanted <= tables and AuditEntry._meta.db_table in tables:
        triggers.install(connection)
        database_rights.give(connection, settings.SERVICE_ROLE)
