"""What must hold between the trail and the rows that it is about."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.models import Field, IntegerField, Model

from registry.errors import BadInput
from registry.models.base import ClinicalRow
from registry.services import anchors, audit, triggers
from registry.services.invariants import Breach, Invariant, Looking, asked, broken_by

# Sealing is tried every minute; so long it may have been kept from it, as by a restart.
SEALED_WITHIN = timedelta(hours=1)
CHANGES = "('insert', 'update', 'delete')"


def _chain(looking: Looking) -> Iterator[Breach]:
    broken = audit.verify().broken
    if broken is not None:
        yield Breach(f"{triggers.TRAIL}, position {broken.position}", broken.what)


def _anchors(looking: Looking) -> Iterator[Breach]:
    written = Path(settings.TRAIL_ANCHORS)
    if not written.exists():
        return
    try:
        lost = anchors.first_lost(anchors.anchors_in(written))
    except BadInput as fault:
        yield Breach(written.name, str(fault))
        return
    if lost is not None:
        yield Breach(f"{triggers.TRAIL}, position {lost.position}", lost.what)


def _sealed(looking: Looking) -> Iterator[Breach]:
    late = audit.unsealed_entries().filter(at__lt=looking.now - SEALED_WITHIN)
    yield from broken_by(late, "it has waited for its seal for more than an hour")


def _triggers(looking: Looking) -> Iterator[Breach]:
    missing = triggers.expected_names(connection) - triggers.trigger_names(connection)
    for name in sorted(missing):
        yield Breach(
            f"trigger {name}", "it is missing, so that changes leave no trail: run migrate"
        )


def _rows(looking: Looking) -> Iterator[Breach]:
    for model in triggers.audited_models():
        yield from _unlike(model)


def _unlike(model: type[Model]) -> Iterator[Breach]:
    """Find the rows that are not as their newest entry has them.

    The database compares them as they are written; what differs there may still say the same, as
    after a move from one database to another, and is compared value by value.
    """
    vendor, table = connection.vendor, model._meta.db_table
    content = triggers.row_as_json(model, "t", vendor)
    differs = "IS NOT" if vendor == "sqlite" else "IS DISTINCT FROM"
    # The addition keeps the search at the entries of the row: the key alone would tempt it elsewhere.
    query = f"""
        SELECT s.pk, s.content, e.after, e.action FROM (
            SELECT t."{_key(model)}" AS pk, {content} AS content, (
                SELECT max(e.id + 0) FROM {triggers.TRAIL} e WHERE e."table" = '{table}'
                AND e.row_id = CAST(t."{_key(model)}" AS varchar) AND e.action IN {CHANGES}
            ) AS newest FROM "{table}" t
        ) s JOIN {triggers.TRAIL} e ON e.id = s.newest
        WHERE s.newest IS NOT NULL AND (e.action = 'delete' OR e.after {differs} s.content)
    """
    for key, now, after, action in asked(query):
        where = f"{table} {key}"
        if action == "delete":
            yield Breach(where, "the trail says that it was deleted")
        elif unlike := _columns_unlike(model, _loaded(now), _loaded(after)):
            yield Breach(where, f"it is not as the trail has it: {', '.join(unlike)}")


def _columns_unlike(model: type[Model], now: Any, after: Any) -> list[str]:
    """Return the columns that both know and that say something else."""
    if after is None:
        return ["its entry was blanked"]
    fields = {field.column: field for field in model._meta.concrete_fields}
    return sorted(
        name
        for name in now.keys() & after.keys()
        if name in fields and _said(fields[name], now[name]) != _said(fields[name], after[name])
    )


def _said(field: "Field[Any, Any]", value: Any) -> Any:
    """Return a value as its column means it, whichever database wrote it down."""
    if value is None or field.get_internal_type() == "JSONField":
        return value
    meant = field.to_python(value)
    if isinstance(meant, datetime) and meant.tzinfo is not None:
        return meant.astimezone(UTC).replace(tzinfo=None)
    return meant


def _loaded(content: Any) -> Any:
    return json.loads(content) if isinstance(content, str) else content


def _births(looking: Looking) -> Iterator[Breach]:
    for model in triggers.audited_models():
        table = model._meta.db_table
        query = f"""
            SELECT t."{_key(model)}" FROM "{table}" t WHERE NOT EXISTS (
                SELECT 1 FROM {triggers.TRAIL} e WHERE e."table" = '{table}'
                AND e.row_id = CAST(t."{_key(model)}" AS varchar) AND e.action = 'insert')
        """
        for (key,) in asked(query):
            yield Breach(f"{table} {key}", "the trail has no entry of how it came to be")


def _lost(looking: Looking) -> Iterator[Breach]:
    for model in triggers.audited_models():
        table, key = model._meta.db_table, "e.row_id"
        if isinstance(model._meta.pk, IntegerField):
            key = "CAST(e.row_id AS bigint)"
        query = f"""
            SELECT DISTINCT e.row_id FROM {triggers.TRAIL} e
            WHERE e."table" = '{table}' AND e.action = 'insert'
            AND NOT EXISTS (SELECT 1 FROM "{table}" t WHERE t."{_key(model)}" = {key})
            AND NOT EXISTS (SELECT 1 FROM {triggers.TRAIL} d WHERE d."table" = '{table}'
                AND d.row_id = e.row_id AND d.action = 'delete')
        """
        for (row_id,) in asked(query):
            yield Breach(f"{table} {row_id}", "it is gone, and the trail knows of no deletion")


def _versions(looking: Looking) -> Iterator[Breach]:
    for model in triggers.audited_models():
        if any(field.column == "version" for field in model._meta.concrete_fields):
            yield from _jumps(model)


def _jumps(model: type[Model]) -> Iterator[Breach]:
    table = model._meta.db_table
    version = "CAST(e.after ->> 'version' AS integer)"
    begins = "version <> 1" if issubclass(model, ClinicalRow) else "version < 1"
    query = f"""
        SELECT row_id, action, version, before FROM (
            SELECT e.id, e.row_id, e.action, {version} AS version,
                lag({version}) OVER (PARTITION BY e.row_id ORDER BY e.id) AS before
            FROM {triggers.TRAIL} e WHERE e."table" = '{table}' AND e.action IN ('insert', 'update')
        ) s WHERE (action = 'insert' AND {begins})
        OR (action = 'update' AND (version < before OR version > before + 1)) ORDER BY id
    """
    for row_id, action, found, before in asked(query):
        step = (
            f"began at version {found}" if action == "insert" else f"went from {before} to {found}"
        )
        yield Breach(f"{table} {row_id}", f"it {step}")


def _key(model: type[Model]) -> str:
    return str(model._meta.pk.column)


INVARIANTS = (
    Invariant("trail_chain", "The hash chain of the trail holds from end to end.", _chain),
    Invariant(
        "trail_anchors", "The trail is what was written down outside the database.", _anchors
    ),
    Invariant("trail_sealed", "No entry of the trail waits for its seal over a day.", _sealed),
    Invariant("trail_triggers", "The database itself writes the trail of each table.", _triggers),
    Invariant("trail_rows", "Each row is as its newest entry in the trail has it.", _rows),
    Invariant("trail_births", "The trail knows how each row came to be.", _births),
    Invariant("trail_lost", "Each row that the trail knows is there, unless deleted.", _lost),
    Invariant(
        "versions",
        "Versions of a row begin at 1 and rise by one at most with each change.",
        _versions,
    ),
)
