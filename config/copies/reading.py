"""Reading a copy: held against its own hashes, and put back: all of it, or nothing."""

import hashlib
import json
import tarfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from tempfile import SpooledTemporaryFile, TemporaryDirectory, TemporaryFile
from typing import IO, Any

from django.conf import settings
from django.core.files.base import File
from django.core.files.storage import storages
from django.core.management import call_command
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from config.copies import manifest as manifests
from config.copies import sealing, stored
from config.copies.manifest import CopyFault, Manifest
from config.copies.stored import Stored
from config.copies.writing import BLOCK, FILES, MANIFEST, Progress, engine, heads, silent
from followup.services import stuck_messages
from registry.services import jobs, sessions

IN_MEMORY = 8 << 20


@dataclass(frozen=True)
class PutBack:
    """What was put back, and what whoever did it has to know."""

    manifest: Manifest
    warnings: tuple[str, ...]


def check_copy(*, source: Path, key: Path, progress: Progress = silent) -> Manifest:
    """Decrypt a copy and hold all of it against its own hashes; nothing is written to the service.

    Raises CopyFault, which says what is wrong.
    """
    with TemporaryDirectory(prefix="copy-", dir=settings.DATA_DIR) as name:
        return _checked(source, sealing.identities(key), Path(name) / "database", progress)


def put_back(
    *, source: Path, key: Path, now: datetime, replace: bool = False, progress: Progress = silent
) -> PutBack:
    """Put a copy back and bring it up to this code: all of it, equal by hash, or nothing.

    Everything is checked before anything is written. Raises CopyFault where the copy is not whole, is of
    another engine or of newer code, and where the database is not empty and is not to be replaced.
    """
    keys = sealing.identities(key)
    with TemporaryDirectory(prefix="copy-", dir=settings.DATA_DIR) as name:
        database = Path(name) / "database"
        manifest = _checked(source, keys, database, progress)
        _fits(manifest)
        _empty(replace)
        notes: list[str] = []
        with _files_put(source, keys, replace, Path(name), progress):
            engine().put_in_place(
                database,
                check=lambda moment: _equal(moment, manifest, progress),
                then=lambda: notes.extend(_go_on(manifest, now)),
            )
    return PutBack(manifest, tuple(notes))


def _checked(source: Path, keys: Sequence[Any], database: Path, progress: Progress) -> Manifest:
    """Read a copy to its end; the database is left in a file."""
    with _members(source, keys) as members, TemporaryFile() as seen:
        found: dict[str, tuple[int, str]] = {}
        many = size = 0
        text, listed = b"", ""
        for told, content in members:
            if told.name == MANIFEST:
                text = content.read()
            elif told.name == FILES:
                listed = _same_lines(content, seen)
            elif told.name.startswith("files/"):
                stored.of_member(told.name)
                length, sha = _through(content, None)
                line = {"path": told.name, "size": length, "sha256": sha}
                seen.write(json.dumps(line).encode() + b"\n")
                many, size = many + 1, size + length
            else:
                with database.open("wb") as target:
                    found[told.name] = _through(content, target)
            progress(told.name, 1)
    manifest = manifests.from_json(text)
    (got,) = found.values() if len(found) == 1 else ((0, ""),)
    if got != (manifest.database.size, manifest.database.sha256):
        raise CopyFault(
            "The database in the copy is not the one that was copied. Take another copy."
        )
    if (listed, many, size) != (manifest.files.sha256, manifest.files.size, manifest.file_bytes):
        raise CopyFault("Files are missing from the copy, or are not those that were copied.")
    return manifest


def _same_lines(content: IO[bytes], seen: IO[bytes]) -> str:
    """Return the hash of the list of files, after holding it against what was read."""
    seen.seek(0)
    found = hashlib.sha256()
    for line in content:
        there = seen.readline()
        if line != there:
            name = json.loads(line)["path"]
            raise CopyFault(f"{name} is missing from the copy, or is not the file that was copied.")
        found.update(line)
    return found.hexdigest()


def _through(content: IO[bytes], target: IO[bytes] | None) -> tuple[int, str]:
    found, size = hashlib.sha256(), 0
    for block in iter(partial(content.read, BLOCK), b""):
        found.update(block)
        size += len(block)
        if target is not None:
            target.write(block)
    return size, found.hexdigest()


@contextmanager
def _members(
    source: Path, keys: Sequence[Any]
) -> Iterator[Iterator[tuple[tarfile.TarInfo, IO[bytes]]]]:
    try:
        file = source.open("rb")
    except OSError as fault:
        raise CopyFault(f"{source} cannot be opened: {fault.strerror}.") from fault
    with file, sealing.opened(file, keys, source.name) as plain:
        try:
            with tarfile.open(fileobj=plain, mode="r|") as packed:
                yield _each(packed)
        except (tarfile.TarError, EOFError) as fault:
            raise CopyFault(f"{source.name} cannot be unpacked: {fault}.") from fault


def _each(packed: tarfile.TarFile) -> Iterator[tuple[tarfile.TarInfo, IO[bytes]]]:
    for told in packed:
        content = packed.extractfile(told)
        if content is None:
            raise CopyFault(f"The copy holds '{told.name}', which is no file.")
        yield told, content


def _fits(manifest: Manifest) -> None:
    here = connection.vendor
    if manifest.engine != here:
        raise CopyFault(
            f"This is a copy of a {manifest.engine} database, and {here} is set here. Put it back with "
            "the same engine; make_archive and bring_back go from one to the other."
        )
    known = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    apps = {app for app, _ in known}
    newer = [
        f"{app} {name}"
        for app, name in manifest.migrations.items()
        if app in apps and (app, name) not in known and not _is_squashed(app, name, apps)
    ]
    if newer or _numbers(manifest.code_version) > _numbers(settings.CODE_VERSION):
        told = f", which does not know {', '.join(newer)}" if newer else ""
        raise CopyFault(
            f"The copy was made by newer code ({manifest.code_version}) than this "
            f"({settings.CODE_VERSION}){told}. Install the code that made it, or newer, and put it back "
            "with that. Nothing was changed."
        )


def _is_squashed(app: str, name: str, apps: set[str]) -> bool:
    loader = MigrationLoader(None, ignore_no_migrations=True)
    return any((app, name) in one.replaces for one in loader.disk_migrations.values())


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split(".") if part.isdecimal())


def _empty(replace: bool) -> None:
    full = engine().filled()
    if full and not replace:
        more = " and others" if len(full) > 3 else ""
        raise CopyFault(
            f"The database is not empty: {', '.join(full[:3])}{more} hold rows. Set another one, or say "
            "--replace, which throws away what is there now. Nothing was changed."
        )


def _equal(moment: Any, manifest: Manifest, progress: Progress) -> None:
    """Hold what is in the database now against the manifest."""
    tables = set(moment.tables())
    differ = sorted(tables ^ set(manifest.tables))
    for table in sorted(tables & set(manifest.tables)):
        found = moment.content(table)
        progress(table, found.size)
        if found != manifest.tables[table]:
            differ.append(table)
    if differ or heads(moment) != dict(manifest.migrations):
        told = ", ".join(differ[:5]) or "its migrations"
        raise CopyFault(
            f"What came back is not equal to what was copied: {told}. Nothing was kept."
        )


def _go_on(manifest: Manifest, now: datetime) -> Iterator[str]:
    """Bring the records up to this code, and end what was under way when they were copied."""
    call_command("migrate", interactive=False, verbosity=0)
    because = f"the records were put back from a copy of {manifest.made_at}"
    jobs.bury_all(now=now, because=because)
    _, revoked = sessions.end_everything(now=now)
    if revoked:
        yield f"{revoked} tokens of programs were revoked: some may have been since the copy was made."
    parked = stuck_messages.park_due(
        now=now,
        today=timezone.localtime(now).date(),
        because=f"{because}; it may have gone since",
    )
    if parked:
        yield (
            f"{parked} messages were due since the copy was made. Whether they went is not known, so that "
            "none goes by itself: see 'What did not go out?'."
        )
    yield from _warnings(manifest)


@contextmanager
def _files_put(
    source: Path, keys: Sequence[Any], replace: bool, folder: Path, progress: Progress
) -> Iterator[None]:
    """Put the files where rows look for them; on a fault all is as it was."""
    put: list[Stored] = []
    before: list[tuple[Stored, Path]] = []
    try:
        with _members(source, keys) as members:
            for told, content in members:
                if told.name.startswith("files/"):
                    _put(stored.of_member(told.name), content, replace, folder, put, before)
                    progress(told.name, 1)
        yield
    except BaseException:
        for file in put:
            storages[file.storage].delete(file.name)
        for file, aside in before:
            with aside.open("rb") as content:
                storages[file.storage].save(file.name, File(content))
        raise


def _put(
    file: Stored,
    content: IO[bytes],
    replace: bool,
    folder: Path,
    put: list[Stored],
    before: list[tuple[Stored, Path]],
) -> None:
    store = storages[file.storage]
    with SpooledTemporaryFile(max_size=IN_MEMORY, dir=str(folder)) as coming:
        wanted = _through(content, coming)
        coming.seek(0)
        there = stored.opened(file)
        if there is not None:
            with there:
                if _through(there, None) == wanted:
                    return
            if not replace:
                raise CopyFault(
                    f"The storage '{file.storage}' holds another file named {file.name}. Empty it first, "
                    "or say --replace. Nothing was changed."
                )
            before.append((file, _aside(file, folder, len(before))))
            store.delete(file.name)
        put.append(file)
        saved = store.save(file.name, File(coming))
        if saved != file.name:
            store.delete(saved)
            raise CopyFault(f"The storage '{file.storage}' does not take the name {file.name}.")


def _aside(file: Stored, folder: Path, number: int) -> Path:
    aside = folder / f"before-{number}"
    there = stored.opened(file)
    with aside.open("wb") as target:
        if there is not None:
            with there:
                _through(there, target)
    return aside


def _warnings(manifest: Manifest) -> Iterator[str]:
    if manifest.missing:
        told = ", ".join(manifest.missing[:5])
        yield (
            f"{len(manifest.missing)} files that rows name were missing when the copy was made: {told}. "
            "Look for them in an older copy."
        )
    if manifest.secret != manifests.secret_of(settings.SECRET_KEY):
        yield (
            "This service has another HOLDFAST_SECRET_KEY than the one that was copied: everybody signs "
            "in again, and links that were handed out to patients may not open. Set the former key."
        )
    yield (
        "What was recorded after the copy is not in it. verify_records says whether all holds; a file of "
        "HOLDFAST_TRAIL_ANCHORS that is younger than the copy says rightly that the trail once went on."
    )
