"""One of each thing at a site, damaged a row at a time; which rules are then found broken."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

import time_machine
from django.db import connection, transaction

from config import verifying
from registry.services import audit, triggers
from registry.services.invariants import Looking
from tests import builders, world

LOOKED_AT = builders.NOW + timedelta(hours=1)


def record(blocker: Any) -> Iterator[dict[str, Any]]:
    """Record one of each thing for a module; each test damages inside `taken_back`."""
    with blocker.unblock(), time_machine.travel(builders.NOW), transaction.atomic():
        builders.load_defaults()
        builders.site("south")
        things = world.one_of_each("north")
        audit.seal_all()
        connection.check_constraints()
        yield things
        transaction.set_rollback(True)


@contextmanager
def taken_back() -> Iterator[None]:
    """Take back whatever is done inside."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def sql(query: str, *given: Any) -> int:
    """Run a statement past all services, but not past the database's own trail; return how many rows."""
    with connection.cursor() as cursor:
        cursor.execute(query, given)
        return int(cursor.rowcount)


def around_triggers(query: str, *given: Any) -> int:
    """Run a statement so that the database writes no trail about it."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = replica")
        else:
            triggers.remove_before_remake(connection)
    changed = sql(query, *given)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = origin")
        else:
            triggers.install(connection)
    return changed


@contextmanager
def unchecked(table: str, rule: str) -> Iterator[None]:
    """Let what is done inside break one rule of the database itself."""
    if connection.vendor == "sqlite":
        sql("PRAGMA ignore_check_constraints = ON")
    else:
        sql(f"ALTER TABLE {table} DROP CONSTRAINT {rule}")
    yield
    if connection.vendor == "sqlite":
        sql("PRAGMA ignore_check_constraints = OFF")


def broken(later: timedelta = timedelta()) -> dict[str, list[str]]:
    """Look through every rule; return what breaks each that is broken, in words."""
    findings = verifying.look_through(Looking(LOOKED_AT + later))
    return {
        one.invariant.name: [f"{row.where}: {row.what}" for row in one.first]
        for one in findings
        if not one.holds
    }
