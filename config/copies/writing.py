"""Making a copy of everything: one moment of the database, the files beside it, encrypted and checked."""

import hashlib
import json
import os
import tarfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory, TemporaryFile
from typing import IO, Any, cast

from django.conf import settings
from django.db import connection

from config.copies import postgres, sealing, shelf, sqlite, stored
from config.copies.manifest import Content, CopyFault, Manifest, secret_of
from config.copies.sealing import Hashing
from config.copies.sqlite import reach_disk
from config.copies.stored import Stored

BLOCK = 1 << 20
FILES, MANIFEST = "files.ndjson", "manifest.json"
# How often it is begun anew because rows and files went on meanwhile.
TRIES = 3
Progress = Callable[[str, int], object]


class WentOn(Exception):
    """A file that the moment of the database names was replaced before it could be copied."""


def silent(what: str, done: int) -> None:
    """Show nobody how it goes on."""


def engine() -> Any:
    """Return what knows how the database that is set is copied."""
    return sqlite if connection.vendor == "sqlite" else postgres


def keep_copy(
    *,
    folder: Path,
    recipients: Sequence[str],
    now: datetime,
    keep: int = 0,
    progress: Progress = silent,
) -> "shelf.Kept":
    """Write a copy of everything into a folder, encrypted for public keys; it is there whole or not at all.

    With `keep`, only so many of the newest copies stay. Raises CopyFault where it cannot be made.
    """
    keys = sealing.recipients(recipients)
    if not folder.is_dir():
        raise CopyFault(f"The folder for copies, {folder}, is not there. Nothing was copied.")
    shelf.clear_begun(folder)
    target = folder / shelf.name_at(now)
    if target.exists():
        raise CopyFault(f"{target} is there already: one copy a second is enough.")
    begun = target.with_name(f"{target.name}.begun")
    for left in range(TRIES, 0, -1):
        try:
            kept = _written(begun, target, keys, now, progress)
        except WentOn:
            if left == 1:
                raise CopyFault(
                    "Files of films were replaced faster than they could be copied; try again when less "
                    "is going on. Nothing was kept."
                ) from None
        else:
            shelf.retire(folder, keep)
            return kept
    raise AssertionError("unreachable")


def _written(
    begun: Path, target: Path, keys: Sequence[Any], now: datetime, progress: Progress
) -> "shelf.Kept":
    try:
        begun.touch(mode=0o600)
        with begun.open("wb") as file:
            cipher = Hashing(file)
            with sealing.sealed(cipher, keys) as plain:
                manifest = _packed(plain, now, progress)
            file.flush()
            os.fsync(file.fileno())
        _read_back(begun, cipher)
        kept = shelf.Kept(
            target,
            manifest,
            cipher=Content(cipher.size, cipher.sha256),
            plain=Content(plain.size, plain.sha256),
        )
        shelf.describe(kept)
        begun.replace(target)
        reach_disk(target.parent)
    except OSError as fault:
        with suppress(OSError):
            shelf.beside(target).unlink(missing_ok=True)
        raise sealing.not_written(fault) from fault
    finally:
        with suppress(OSError):
            begun.unlink(missing_ok=True)
    return kept


def _read_back(begun: Path, cipher: Hashing) -> None:
    """Hold what has reached the disk against what was written."""
    found = hashlib.sha256()
    with begun.open("rb") as file:
        # What is read should come from the disk and not from memory, where the system lets us ask.
        with suppress(AttributeError, OSError):
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        for block in iter(partial(file.read, BLOCK), b""):
            found.update(block)
    if found.hexdigest() != cipher.sha256:
        raise CopyFault(
            "What was read back is not what was written: look at the disk. Nothing was kept."
        )


def _packed(plain: Hashing, now: datetime, progress: Progress) -> Manifest:
    with (
        TemporaryDirectory(prefix="copy-", dir=settings.DATA_DIR) as name,
        engine().moment(Path(name)) as moment,
        tarfile.open(fileobj=cast("IO[bytes]", plain), mode="w|") as packed,
        TemporaryFile(dir=name) as listed,
    ):
        dump = Path(name) / "dump"
        moment.write(dump)
        database = _add_file(packed, moment.member, dump)
        progress("database", 1)
        list_of_files = Hashing(listed)
        many, size = _add_stored(packed, list_of_files, progress)
        missing = _missing(moment)
        listed.seek(0)
        _add(packed, FILES, listed, list_of_files.size)
        tables = {}
        for table in moment.tables():
            tables[table] = moment.content(table)
            progress(table, tables[table].size)
        manifest = Manifest(
            made_at=now.astimezone(UTC).isoformat(timespec="seconds"),
            code_version=settings.CODE_VERSION,
            engine=moment.engine,
            engine_version=moment.engine_version,
            migrations=heads(moment),
            tables=tables,
            database=database,
            files=Content(many, list_of_files.sha256),
            file_bytes=size,
            missing=missing,
            secret=secret_of(settings.SECRET_KEY),
        )
        with _as_file(json.dumps(manifest.as_json(secret=True)).encode()) as (text, length):
            _add(packed, MANIFEST, text, length)
    return manifest


def heads(moment: Any) -> dict[str, str]:
    """Return the newest migration of each application that a database has."""
    newest: dict[str, str] = {}
    if "django_migrations" not in moment.tables():
        return newest
    for app, name in moment.rows("SELECT app, name FROM django_migrations ORDER BY id"):
        newest[app] = max(name, newest.get(app, ""))
    return newest


def _add_stored(packed: tarfile.TarFile, listed: Hashing, progress: Progress) -> tuple[int, int]:
    many = size = 0
    for file in stored.everything():
        source = stored.opened(file)
        if source is None:
            continue
        with source:
            added = _add_hashed(packed, file, source)
        line = {"path": file.member, "size": added.size, "sha256": added.sha256}
        listed.write(json.dumps(line).encode() + b"\n")
        many, size = many + 1, size + added.size
        progress(file.member, 1)
    return many, size


def _add_hashed(packed: tarfile.TarFile, file: Stored, source: IO[bytes]) -> Content:
    source.seek(0, os.SEEK_END)
    length = source.tell()
    source.seek(0)
    passing = _Reading(source)
    _add(packed, file.member, passing, length)
    return Content(length, passing.sha256)


def _add_file(packed: tarfile.TarFile, member: str, path: Path) -> Content:
    with path.open("rb") as source:
        passing = _Reading(source)
        _add(packed, member, passing, path.stat().st_size)
    path.unlink()
    return Content(passing.size, passing.sha256)


def _add(packed: tarfile.TarFile, member: str, source: Any, length: int) -> None:
    told = tarfile.TarInfo(member)
    told.size, told.mode = length, 0o600
    packed.addfile(told, source)


class _Reading:
    """A file that is read through, with the hash of what was read."""

    def __init__(self, source: IO[bytes]) -> None:
        self._source, self._hash, self.size = source, hashlib.sha256(), 0

    def read(self, size: int = -1) -> bytes:
        block = self._source.read(size)
        self._hash.update(block)
        self.size += len(block)
        return block

    @property
    def sha256(self) -> str:
        return self._hash.hexdigest()


@contextmanager
def _as_file(content: bytes) -> Iterator[tuple[IO[bytes], int]]:
    with TemporaryFile() as file:
        file.write(content)
        file.seek(0)
        yield file, len(content)


def _missing(moment: Any) -> tuple[str, ...]:
    """Return the files that rows name and that are not there.

    Raises WentOn where one was replaced since the moment: a copy of a later moment has it.
    """
    gone = [file for file in stored.named(moment) if stored.opened_no_more(file)]
    if not gone:
        return ()
    with (
        TemporaryDirectory(prefix="copy-", dir=settings.DATA_DIR) as name,
        engine().moment(Path(name)) as later,
    ):
        still = set(stored.named(later))
    if any(file not in still for file in gone):
        raise WentOn
    return tuple(file.member for file in gone)


def counted(kept: "shelf.Kept") -> dict[str, int]:
    """Return what a run of the background writes down of a copy."""
    told = {"rows copied": kept.manifest.rows, "files": kept.manifest.files.size}
    missing = len(kept.manifest.missing)
    return {**told, "files that are missing": missing} if missing else told
