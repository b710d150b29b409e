"""Writing many new rows together: numbered and remembered as they are made, written table by table.

A long list makes tens of thousands of rows by the services of the pages, each of which writes, and asks
the database about what it wrote a moment ago. Inside `together()` new rows are queued with the number
that they will have, and what hangs on a row made there is answered from memory. Nothing else changes:
before any other statement touches a table, what is queued for it is written, and what somebody else
writes to a table is no longer answered from memory.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import cache
from typing import Any, NamedTuple, TypeVar

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections, models

Found = TypeVar("Found")
NUMBERS_AT_ONCE = 100
# The table that a statement writes to; a question has none.
WRITES_TO = re.compile(r'\s*(?:INSERT INTO|UPDATE|DELETE FROM)\s+"(\w+)"')


class NotTogether(DatabaseError):
    """These rows cannot be written together; one by one it is seen why."""


class _Columns(NamedTuple):
    """What of a model is written, and which of its columns point at which model."""

    fields: "tuple[models.Field[Any, Any], ...]"
    links: tuple[tuple[str, str, type[models.Model]], ...]
    insert: str


@dataclass
class _Queue:
    """What waits to be written to one table: new rows, then changes of them, in their order."""

    model: type[models.Model]
    rows: list[Sequence[Any]] = field(default_factory=list)
    changes: list[tuple[str, Sequence[Any]]] = field(default_factory=list)


class Gathering:
    """The rows that were made together, what of them waits to be written, and what is known."""

    def __init__(self) -> None:
        """Start with nothing."""
        # The proxy asks for the thread's connection each time, a million times in a long list.
        self._connection = connections[DEFAULT_DB_ALIAS]
        self._queued: dict[str, _Queue] = {}
        self._numbers: dict[str, list[int]] = {}
        self._made: dict[tuple[type[models.Model], Any], tuple[int, models.Model]] = {}
        self._under: dict[tuple[type[models.Model], str, Any], list[models.Model]] = {}
        # By table, how many rows were made when somebody else last wrote to it.
        self._touched: dict[str, int] = {}
        self._held: dict[tuple[type[models.Model], Any], tuple[int, models.Model]] = {}
        self._known: dict[Any, Any] = {}
        self._writing = self._broken = False

    def add(self, row: models.Model) -> bool:
        """Take a new row whose fields were checked; False where it has to be saved by itself."""
        model = type(row)
        columns = _columns_of(model)
        if columns is None or row.pk is not None:
            return False
        row.pk = self._number(model)
        values = [one.pre_save(row, add=True) for one in columns.fields]
        if any(hasattr(value, "resolve_expression") for value in values):
            row.pk = None
            return False
        to = self._connection
        pairs = zip(columns.fields, values, strict=True)
        queue = self._queue(model)
        queue.rows.append([one.get_db_prep_save(value, to) for one, value in pairs])
        row._state.adding, row._state.db = False, to.alias
        self._made[model, row.pk] = len(self._made), row
        for name, column, target in columns.links:
            pointed = getattr(row, column)
            if (target, pointed) in self._made:
                self._under.setdefault((model, name, pointed), []).append(row)
        return True

    def change(self, row: models.Model, values: Mapping[str, Any], *, version: int) -> bool:
        """Take a change over a version of a row made or held here; False where it is made at once."""
        model = type(row)
        key = (model, row.pk)
        made = self._made.get(key) or self._held.get(key)
        fields: list[Any] = [model._meta.get_field(name) for name in values]
        if made is None or made[1] is not row or not self._speaks_for(model, made[0]):
            return False
        if any(one.is_relation and one.name != "changed_by" for one in fields):
            return False
        to = self._connection
        quoted = to.ops.quote_name
        sets = ", ".join(f"{quoted(one.column)} = %s" for one in fields)
        statement = (
            f"UPDATE {quoted(model._meta.db_table)} SET {sets} "  # noqa: S608 - our own names
            "WHERE id = %s AND version = %s AND voided_at IS NULL"
        )
        given = [
            one.get_db_prep_save(_key_of(value), to)
            for one, value in zip(fields, values.values(), strict=True)
        ]
        self._queue(model).changes.append((statement, [*given, row.pk, version]))
        return True

    def hold(self, rows: Sequence[models.Model]) -> None:
        """Let changes of rows that were read a moment ago be written together as well."""
        self._held |= {(type(row), row.pk): (len(self._made), row) for row in rows}

    def under(
        self, model: type[models.Model], name: str, parent: models.Model
    ) -> list[models.Model] | None:
        """Return the rows of a model that hang on a row; None where only the database knows."""
        made = self._made.get((type(parent), parent.pk))
        if made is None or not self._speaks_for(model, made[0]):
            return None
        return list(self._under.get((model, name, parent.pk), ()))

    def made(self, row: models.Model) -> bool:
        """Say whether a row was made here, so that nothing older can hang on it."""
        return (type(row), row.pk) in self._made

    def once(self, key: Any, ask: Callable[[], Found]) -> Found:
        """Return what is asked for once and is the same for every row."""
        if key not in self._known:
            self._known[key] = ask()
        found: Found = self._known[key]
        return found

    def make_way(
        self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any
    ) -> Any:
        """Write what is queued for the tables of a statement before it is executed."""
        if not self._writing:
            for table in [table for table in self._queued if f'"{table}"' in sql]:
                self._write(table)
            if sql.startswith("ROLLBACK"):
                # What was written since the savepoint is gone, and memory does not know which.
                self._broken = True
            written = WRITES_TO.match(sql)
            if written is not None:
                self._touched[written[1]] = len(self._made)
        return execute(sql, params, many, context)

    @contextmanager
    def whole(self) -> Iterator[None]:
        """Let what fails inside be the end of the whole: what was queued before cannot be told apart."""
        try:
            yield
        except BaseException:
            self._broken = True
            raise

    def write_all(self) -> None:
        """Write everything that is queued. Raises NotTogether where memory cannot be trusted."""
        if self._broken:
            raise NotTogether("something was undone in the middle")
        for table in list(self._queued):
            self._write(table)

    def _speaks_for(self, model: type[models.Model], serial: int) -> bool:
        return serial >= self._touched.get(model._meta.db_table, 0)

    def _queue(self, model: type[models.Model]) -> _Queue:
        return self._queued.setdefault(model._meta.db_table, _Queue(model))

    def _number(self, model: type[models.Model]) -> int:
        table = model._meta.db_table
        if not self._numbers.get(table):
            self._numbers[table] = _reserve(table, NUMBERS_AT_ONCE)
        return self._numbers[table].pop()

    def _write(self, table: str) -> None:
        queue = self._queued.pop(table)
        columns = _columns_of(queue.model)
        self._writing = True
        try:
            with self._connection.cursor() as cursor:
                if queue.rows and columns is not None:
                    cursor.executemany(columns.insert, queue.rows)
                for statement, rows in _runs(queue.changes):
                    cursor.executemany(statement, rows)
                    if cursor.rowcount != len(rows):
                        raise NotTogether(f"a row of {table} is not as it was left")
        finally:
            self._writing = False


_current: ContextVar[Gathering | None] = ContextVar("gathering", default=None)


def current() -> Gathering | None:
    """Return what is gathered now, None where every row is written by itself."""
    return _current.get()


@contextmanager
def together() -> Iterator[None]:
    """Gather what is created inside, within a transaction of the caller's, and write it at the end.

    A refusal of the database comes late, at the writing, and undoes the whole: the caller then saves
    row by row. Raises NotTogether, and what the database raises.
    """
    gathering = Gathering()
    token = _current.set(gathering)
    try:
        with connection.execute_wrapper(gathering.make_way):
            yield
            gathering.write_all()
    finally:
        _current.reset(token)


def once(key: Any, ask: Callable[[], Found]) -> Found:
    """Return what is the same for every row that is gathered; outside of it, ask each time."""
    gathering = current()
    return ask() if gathering is None else gathering.once(key, ask)


def hold(rows: Sequence[models.Model]) -> None:
    """Let changes of rows that were read a moment ago be written together, where anything is."""
    gathering = current()
    if gathering is not None:
        gathering.hold(rows)


def is_new(row: models.Model) -> bool:
    """Say whether a row was made in what is gathered now, so that nothing older can hang on it."""
    gathering = current()
    return gathering is not None and gathering.made(row)


def _key_of(value: Any) -> Any:
    return value.pk if isinstance(value, models.Model) else value


def _runs(
    changes: Sequence[tuple[str, Sequence[Any]]],
) -> Iterator[tuple[str, list[Sequence[Any]]]]:
    """Yield changes of the same columns together, without changing their order."""
    run: list[Sequence[Any]] = []
    for place, (statement, values) in enumerate(changes):
        run.append(values)
        if place + 1 == len(changes) or changes[place + 1][0] != statement:
            yield statement, run
            run = []


@cache
def _columns_of(model: type[models.Model]) -> _Columns | None:
    """Return how a model is written; None where its key is not a number that the database gives."""
    fields = tuple(model._meta.concrete_fields)
    if not isinstance(model._meta.pk, models.AutoField) or model._meta.parents:
        return None
    quoted = connection.ops.quote_name
    names = ", ".join(quoted(str(one.column)) for one in fields)
    places = ", ".join("%s" for _ in fields)
    links = tuple(
        (one.name, str(one.attname), one.remote_field.model)
        for one in fields
        if one.is_relation and one.remote_field is not None
    )
    table = quoted(model._meta.db_table)
    return _Columns(fields, links, f"INSERT INTO {table} ({names}) VALUES ({places})")  # noqa: S608 - our own names


def _reserve(table: str, count: int) -> list[int]:
    """Take numbers that nobody else will give, the lowest last."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                [table, count],
            )
            return sorted((row[0] for row in cursor.fetchall()), reverse=True)
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        found = cursor.fetchone()
        last = found[0] if found else 0
        statement = (
            "UPDATE sqlite_sequence SET seq = %s WHERE name = %s"
            if found
            else "INSERT INTO sqlite_sequence (seq, name) VALUES (%s, %s)"
        )
        cursor.execute(statement, [last + count, table])
    return list(range(last + count, last, -1))
