"""What the role of the running service may do in PostgreSQL: work with rows, and no more."""

from django.core.exceptions import ImproperlyConfigured
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from registry.services.triggers import TRAIL

# What sealing and erasure write; the triggers say when they may.
SEALED_COLUMNS = ("position", "previous_hash", "hash", "before_digest", "after_digest")
BLANKED_COLUMNS = ("before", "after")
# Which shape the tables have is written by whoever owns them.
MIGRATIONS = "django_migrations"


def give(connection: BaseDatabaseWrapper, role: str) -> None:
    """Give the service's role what it needs of each table, and take what it does not.

    It reads and writes rows, but neither deletes nor empties the audit trail, changes no column of it but
    those of sealing and erasure, and writes none of the migrations. It owns nothing, so that it
    switches no trigger off. Without a role, and on SQLite, nothing is done.

    Raises ImproperlyConfigured for a role that is not there, or that owns the tables itself.
    """
    if not role or connection.vendor != "postgresql":
        return
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        cursor.execute(
            "SELECT current_user, EXISTS (SELECT FROM pg_roles WHERE rolname = %s)", [role]
        )
        owner, is_there = cursor.fetchone()
        if not is_there:
            raise ImproperlyConfigured(
                f"HOLDFAST_SERVICE_ROLE is '{role}', which is no role of this PostgreSQL; "
                "config/postgres_roles.sql makes it."
            )
        if role == owner:
            raise ImproperlyConfigured(
                f"HOLDFAST_SERVICE_ROLE is '{role}', which signs in here to migrate: name the role "
                "that the service signs in as, and migrate as the owner of the tables."
            )
        for statement in _statements(connection.ops.quote_name(role)):
            cursor.execute(statement)


def _statements(role: str) -> list[str]:
    columns = ", ".join(f'"{name}"' for name in (*SEALED_COLUMNS, *BLANKED_COLUMNS))
    return [
        f"GRANT USAGE ON SCHEMA public TO {role}",
        f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {role}",
        f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {role}",
        f"REVOKE UPDATE, DELETE, TRUNCATE ON {TRAIL} FROM {role}",
        f"GRANT UPDATE ({columns}) ON {TRAIL} TO {role}",
        f"REVOKE INSERT, UPDATE, DELETE, TRUNCATE ON {MIGRATIONS} FROM {role}",
    ]
