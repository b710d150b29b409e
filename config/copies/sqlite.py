"""Copying the embedded database as it is at one moment, and putting it back."""

import gzip
import hashlib
import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from django.db import connection, connections

from config.copies.manifest import Content, CopyFault

MEMBER = "database.sqlite3.gz"
AT_ONCE = 2000
BLOCK = 1 << 20
LOCKED_SECONDS = 60.0
# What a step of copying answers where somebody else holds the database.
LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


class Moment:
    """The database as it was at one moment: a copy in a file that nobody else writes to."""

    engine = "sqlite"
    member = MEMBER

    def __init__(self, file: Path) -> None:
        """Open the copied file for reading."""
        self._file = file
        self._link = sqlite3.connect(f"file:{file}?mode=ro", uri=True)
        self.engine_version = sqlite3.sqlite_version

    def rows(self, query: str) -> Iterator[tuple[Any, ...]]:
        """Yield what a query finds."""
        with closing(self._link.execute(query)) as cursor:
            while found := cursor.fetchmany(AT_ONCE):
                yield from found

    def tables(self) -> list[str]:
        """Return the names of all tables."""
        return [
            name
            for (name,) in self.rows(
                "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' "
                "ORDER BY name"
            )
        ]

    def content(self, table: str) -> Content:
        """Return how many rows a table has, and the hash of all of them in the order of their keys."""
        found, many = hashlib.sha256(), 0
        for row in self.rows(f'SELECT * FROM "{table}" ORDER BY rowid'):
            many += 1
            found.update(_plain(row))
        return Content(many, found.hexdigest())

    def write(self, target: Path) -> None:
        """Write the database into a file as it goes into the copy."""
        faults = [str(row[0]) for row in self.rows("PRAGMA integrity_check(3)")]
        if faults != ["ok"]:
            raise CopyFault(
                f"The database is damaged: {'; '.join(faults)}. No copy was made of it."
            )
        with self._file.open("rb") as source, gzip.open(target, "wb", compresslevel=3) as packed:
            shutil.copyfileobj(source, packed, BLOCK)

    def close(self) -> None:
        """Let go of the copied file."""
        self._link.close()


@contextmanager
def moment(folder: Path) -> Iterator[Moment]:
    """Copy the database into a folder as it is now; writers are not held up."""
    file = folder / "moment.sqlite3"
    connection.ensure_connection()
    with closing(sqlite3.connect(file)) as target:
        connection.connection.backup(target, progress=_not_for_ever())
        target.execute("PRAGMA journal_mode = DELETE")
    taken = Moment(file)
    try:
        yield taken
    finally:
        taken.close()
        file.unlink(missing_ok=True)


def _not_for_ever() -> Callable[[int, int, int], None]:
    """Return what gives up where the database stays locked: the copying itself would wait on and on."""
    until = time.monotonic() + LOCKED_SECONDS

    def look(status: int, left: int, all_pages: int) -> None:
        if status in LOCKED and time.monotonic() > until:
            raise CopyFault("The database has been locked for a minute. Nothing was copied.")

    return look


def _plain(row: Sequence[Any]) -> bytes:
    """Return one unambiguous form of a row."""
    parts = []
    for value in row:
        kind = type(value).__name__.encode()
        said = value if isinstance(value, bytes) else str(value).encode()
        parts.append(b"%s %d:%s" % (kind, len(said), said))
    return b"\x1f".join(parts) + b"\n"


def filled() -> list[str]:
    """Return the tables of the service that hold rows."""
    return [
        table
        for table in connection.introspection.table_names()
        if table.startswith(("registry_", "followup_", "analytics_"))
        and _any(f'SELECT 1 FROM "{table}" LIMIT 1')
    ]


def _any(query: str) -> bool:
    with connection.cursor() as cursor:
        cursor.execute(query)
        return cursor.fetchone() is not None


def put_in_place(
    source: Path, *, check: Callable[[Moment], None], then: Callable[[], None]
) -> None:
    """Put a database from a copy in the place of the one that is there, and check it; then go on.

    The earlier one is kept beside it until all is well, and is back in its place after any fault.
    """
    here = Path(str(connection.settings_dict["NAME"]))
    before, coming = (here.with_name(f"{here.name}.{word}") for word in ("before", "coming"))
    if before.exists():
        raise CopyFault(
            f"{before} is there: an earlier attempt ended in its middle. It is the database as it was "
            f"before: move it to {here.name}, or delete it if you do not want it back."
        )
    try:
        _unpack(source, coming)
        _check(coming, check)
        _nobody_else(here)
        if here.exists():
            here.replace(before)
        try:
            coming.replace(here)
            reach_disk(here.parent)
            then()
        except BaseException:
            connections.close_all()
            for name in ("", "-wal", "-shm"):
                here.with_name(here.name + name).unlink(missing_ok=True)
            if before.exists():
                before.replace(here)
            raise
    finally:
        coming.unlink(missing_ok=True)
    before.unlink(missing_ok=True)


def _unpack(source: Path, target: Path) -> None:
    target.touch(mode=0o600)
    with gzip.open(source, "rb") as packed, target.open("wb") as written:
        shutil.copyfileobj(packed, written, BLOCK)
        written.flush()
        os.fsync(written.fileno())


def _check(file: Path, check: Callable[[Moment], None]) -> None:
    found = Moment(file)
    try:
        check(found)
    finally:
        found.close()


def _nobody_else(here: Path) -> None:
    """Hold that no other process has the database open, and leave nothing of it in its log."""
    connections.close_all()
    if not here.exists():
        return
    with closing(sqlite3.connect(here, timeout=1)) as link:
        try:
            link.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError as fault:
            raise CopyFault(
                f"Another process has {here.name} open ({fault}): stop the service first. Nothing was "
                "changed."
            ) from fault


def reach_disk(folder: Path) -> None:
    """Let what was renamed in a folder outlast a loss of power."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
