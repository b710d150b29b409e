"""Database triggers that write the audit trail and keep it append-only, on SQLite and PostgreSQL.

Triggers see bulk writes and raw SQL as well, which code above the database would miss.
SQLite drops a table's triggers when a migration remakes it, so they are put back after each one.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

TRAIL = "registry_auditentry"
# What was written about names can be blanked when a patient asks for erasure; nothing else can.
ERASABLE = ("registry_identity", "registry_identifier", "registry_alternativecontact")
# Secrets, and what is only bookkeeping.
LEFT_OUT = {
    "registry_person": ("password", "last_login"),
    # Worked out from other columns.
    "registry_part": (
        *("batch_folded", "batch_ordered", "batch_alike"),
        *("serial_folded", "serial_ordered", "serial_alike"),
    ),
    "registry_implantmodel": ("device_key", "catalogue_key"),
    "followup_calendarfeed": ("token_hash", "last_used_at", "digest", "digest_at"),
}


@dataclass(frozen=True)
class Acting:
    """Who is writing now, and why."""

    person_id: int | None
    reason: str


NOBODY = Acting(person_id=None, reason="")
acting: ContextVar[Acting] = ContextVar("acting", default=NOBODY)


@contextmanager
def acting_as(person_id: int | None, reason: str) -> Iterator[None]:
    """Name the person and the reason that the triggers write down for changes made inside."""
    token = acting.set(Acting(person_id, reason[:400]))
    try:
        yield
    finally:
        acting.reset(token)


def audited_models() -> list[type[models.Model]]:
    """Return every model whose changes belong in the trail."""
    return [model for model in apps.get_models() if getattr(model, "audited", False)]


def register_functions(sender: object, connection: BaseDatabaseWrapper, **kwargs: Any) -> None:
    """Give a new SQLite connection the two functions that its triggers call."""
    if connection.vendor == "sqlite":
        raw = connection.connection
        raw.create_function("holdfast_person", 0, lambda: acting.get().person_id)
        raw.create_function("holdfast_reason", 0, lambda: acting.get().reason)


def tell_postgres(connection: BaseDatabaseWrapper) -> None:
    """Hand the acting person and reason to PostgreSQL for the rest of the transaction."""
    if connection.vendor != "postgresql":
        return
    now = acting.get()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT set_config('holdfast.person', %s, true), set_config('holdfast.reason', %s, true)",
            ["" if now.person_id is None else str(now.person_id), now.reason],
        )


def trigger_tables(connection: BaseDatabaseWrapper) -> list[tuple[str, str]]:
    """Return the name and the table of each trigger that is in the database now."""
    query = {
        "sqlite": (
            "SELECT name, tbl_name FROM sqlite_master "
            "WHERE type = 'trigger' AND name LIKE 'trail_%'"
        ),
        "postgresql": (
            "SELECT tgname, tgrelid::regclass::text FROM pg_trigger WHERE tgname LIKE 'trail_%'"
        ),
    }[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(query)
        return [(row[0], row[1]) for row in cursor.fetchall()]


def trigger_names(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of the triggers that are in the database now."""
    return {name for name, _ in trigger_tables(connection)}


def expected_names(connection: BaseDatabaseWrapper) -> set[str]:
    """Return the names of the triggers that ought to be there."""
    kinds = ("i", "u", "d") if connection.vendor == "sqlite" else ("all", "new")
    tables = [model._meta.db_table for model in audited_models()]
    changes = {f"trail_{table}_{kind}" for table in tables for kind in kinds}
    return changes | {"trail_keep_update", "trail_keep_delete"}


def install(connection: BaseDatabaseWrapper) -> None:
    """Put every trigger in place, replacing what is there."""
    builder: Callable[[], list[str]] = {
        "sqlite": _sqlite_statements,
        "postgresql": _postgres_statements,
    }[connection.vendor]
    with connection.cursor() as cursor:
        for statement in builder():
            cursor.execute(statement)


def remove_before_remake(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers off on SQLite, which refuses to remake a table that one of them names."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        for name in trigger_names(connection):
            cursor.execute(f"DROP TRIGGER {name}")


def _columns(model: type[models.Model]) -> "list[models.Field[Any, Any]]":
    left_out = LEFT_OUT.get(model._meta.db_table, ())
    return [field for field in model._meta.concrete_fields if field.column not in left_out]


def row_as_json(model: type[models.Model], which: str, vendor: str) -> str:
    """Return the words of SQL by which the trail writes the row that is called `which`."""
    if vendor == "sqlite":
        return _sqlite_row(model, which)
    left_out = ",".join(LEFT_OUT.get(model._meta.db_table, ()))
    return f"(to_jsonb({which}) - string_to_array('{left_out}', ','))"


def _sqlite_row(model: type[models.Model], which: str) -> str:
    pairs = []
    for field in _columns(model):
        value = f'{which}."{field.column}"'
        pairs.append(
            f"'{field.column}', "
            + (f"json({value})" if isinstance(field, models.JSONField) else value)
        )
    return f"json_object({', '.join(pairs)})"


def _sqlite_statements() -> list[str]:
    statements = []
    for model in audited_models():
        table, key = model._meta.db_table, model._meta.pk.column
        old, new = _sqlite_row(model, "OLD"), _sqlite_row(model, "NEW")
        for kind, when, row, before, after in (
            ("i", "INSERT", "NEW", "NULL", new),
            ("u", "UPDATE", "NEW", old, new),
            ("d", "DELETE", "OLD", old, "NULL"),
        ):
            changed = f"WHEN {old} IS NOT {new}" if kind == "u" else ""
            statements += [
                f"DROP TRIGGER IF EXISTS trail_{table}_{kind}",
                (
                    f"CREATE TRIGGER trail_{table}_{kind} AFTER {when} ON {table} {changed} BEGIN "
                    f"INSERT INTO {TRAIL} "
                    '(at, action, "table", row_id, before, after, person_id, reason, '
                    "previous_hash, hash) VALUES "
                    f"(strftime('%Y-%m-%d %H:%M:%f', 'now'), '{when.lower()}', '{table}', "
                    f'{row}."{key}", {before}, {after}, holdfast_person(), holdfast_reason(), '
                    "'', ''); END"
                ),
            ]
    return [*statements, *_sqlite_keepers()]


def _sqlite_keepers() -> list[str]:
    facts = ("id", "at", "action", '"table"', "row_id", "person_id", "reason")
    content = ("before", "after")
    seals = ("position", "previous_hash", "hash", "before_digest", "after_digest")

    def same(names: tuple[str, ...]) -> str:
        return " AND ".join(f"OLD.{name} IS NEW.{name}" for name in names)

    sealing = f"OLD.position IS NULL AND {same(facts + content)}"
    tables = ", ".join(f"'{table}'" for table in ERASABLE)
    erasing = (
        f'OLD.position IS NOT NULL AND {same(facts + seals)} AND OLD."table" IN ({tables}) '
        "AND NEW.before IS NULL AND NEW.after IS NULL"
    )
    return [
        "DROP TRIGGER IF EXISTS trail_keep_update",
        (
            f"CREATE TRIGGER trail_keep_update BEFORE UPDATE ON {TRAIL} "
            f"WHEN NOT (({sealing}) OR ({erasing})) "
            "BEGIN SELECT RAISE(ABORT, 'the audit trail cannot be changed'); END"
        ),
        "DROP TRIGGER IF EXISTS trail_keep_delete",
        (
            f"CREATE TRIGGER trail_keep_delete BEFORE DELETE ON {TRAIL} "
            "BEGIN SELECT RAISE(ABORT, 'the audit trail cannot be changed'); END"
        ),
    ]


_POSTGRES_WRITE = f"""
CREATE OR REPLACE FUNCTION holdfast_trail() RETURNS trigger LANGUAGE plpgsql AS $body$
DECLARE
  old_row jsonb := NULL;
  new_row jsonb := NULL;
  key text;
  left_out text[] := string_to_array(TG_ARGV[1], ',');
BEGIN
  old_row := to_jsonb(OLD) - left_out;
  IF TG_OP <> 'DELETE' THEN new_row := to_jsonb(NEW) - left_out; END IF;
  IF TG_OP = 'UPDATE' AND old_row IS NOT DISTINCT FROM new_row THEN RETURN NULL; END IF;
  key := coalesce(new_row, old_row) ->> TG_ARGV[0];
  INSERT INTO {TRAIL}
    (at, action, "table", row_id, before, after, person_id, reason, previous_hash, hash)
  VALUES (clock_timestamp(), lower(TG_OP), TG_TABLE_NAME, key, old_row, new_row,
    nullif(current_setting('holdfast.person', true), '')::bigint,
    coalesce(current_setting('holdfast.reason', true), ''), '', '');
  RETURN NULL;
END $body$
"""

# What a statement adds is written down in one go: for many rows this takes half the time.
_POSTGRES_WRITE_NEW = f"""
CREATE OR REPLACE FUNCTION holdfast_trail_new() RETURNS trigger LANGUAGE plpgsql AS $body$
BEGIN
  INSERT INTO {TRAIL}
    (at, action, "table", row_id, before, after, person_id, reason, previous_hash, hash)
  SELECT clock_timestamp(), 'insert', TG_TABLE_NAME, content ->> TG_ARGV[0], NULL, content,
    nullif(current_setting('holdfast.person', true), '')::bigint,
    coalesce(current_setting('holdfast.reason', true), ''), '', ''
  FROM (
    SELECT to_jsonb(one) - string_to_array(TG_ARGV[1], ',') AS content FROM added AS one
  ) AS rows;
  RETURN NULL;
END $body$
"""

_POSTGRES_KEEP = f"""
CREATE OR REPLACE FUNCTION holdfast_keep_trail() RETURNS trigger LANGUAGE plpgsql AS $body$
DECLARE
  seals text[] := ARRAY['position', 'previous_hash', 'hash', 'before_digest', 'after_digest'];
  content text[] := ARRAY['before', 'after'];
BEGIN
  IF TG_OP = 'UPDATE' AND OLD.position IS NULL
     AND (to_jsonb(OLD) - seals) = (to_jsonb(NEW) - seals) THEN
    RETURN NEW;
  END IF;
  IF TG_OP = 'UPDATE' AND OLD.position IS NOT NULL
     AND OLD."table" IN ({", ".join(f"'{table}'" for table in ERASABLE)})
     AND NEW.before IS NULL AND NEW.after IS NULL
     AND (to_jsonb(OLD) - content) = (to_jsonb(NEW) - content) THEN
    RETURN NEW;
  END IF;
  RAISE EXCEPTION 'the audit trail cannot be changed';
END $body$
"""


# Sealing is told from other changes by the executor itself, which asks the function of these only.
_POSTGRES_SEALING = " AND ".join(
    (
        "OLD.position IS NULL",
        *(
            f"OLD.{column} IS NOT DISTINCT FROM NEW.{column}"
            for column in ("id", "at", "action", '"table"', "row_id", "person_id", "reason")
        ),
        "OLD.before IS NOT DISTINCT FROM NEW.before",
        "OLD.after IS NOT DISTINCT FROM NEW.after",
    )
)


def _postgres_statements() -> list[str]:
    statements = [_POSTGRES_WRITE, _POSTGRES_WRITE_NEW, _POSTGRES_KEEP]
    for model in audited_models():
        table, key = model._meta.db_table, model._meta.pk.column
        left_out = ",".join(LEFT_OUT.get(table, ()))
        statements += [
            f"DROP TRIGGER IF EXISTS trail_{table}_all ON {table}",
            (
                f"CREATE TRIGGER trail_{table}_all AFTER UPDATE OR DELETE ON {table} "
                f"FOR EACH ROW EXECUTE FUNCTION holdfast_trail('{key}', '{left_out}')"
            ),
            f"DROP TRIGGER IF EXISTS trail_{table}_new ON {table}",
            (
                f"CREATE TRIGGER trail_{table}_new AFTER INSERT ON {table} "
                "REFERENCING NEW TABLE AS added FOR EACH STATEMENT "
                f"EXECUTE FUNCTION holdfast_trail_new('{key}', '{left_out}')"
            ),
        ]
    for kind, unless in (("update", f"WHEN (NOT ({_POSTGRES_SEALING}))"), ("delete", "")):
        statements += [
            f"DROP TRIGGER IF EXISTS trail_keep_{kind} ON {TRAIL}",
            (
                f"CREATE TRIGGER trail_keep_{kind} BEFORE {kind.upper()} ON {TRAIL} "
                f"FOR EACH ROW {unless} EXECUTE FUNCTION holdfast_keep_trail()"
            ),
        ]
    return statements
