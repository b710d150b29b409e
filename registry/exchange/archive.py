"""An archive in open formats: a ZIP of NDJSON tables, their JSON Schemas, the files beside, one manifest.

Every member is listed in the manifest with its SHA-256; the hash of that list is the archive's own.
"""

import hashlib
import json
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import IO, Any, cast

from django.core.files.storage import storages
from django.db.models import Model

from registry.errors import BadInput
from registry.exchange import archive_rows
from registry.selectors.archive_scope import Table

KIND, VERSION = "holdfast-archive", 1
MANIFEST, FILES = "manifest.json", "files"
BLOCK = 1 << 20
AT_ONCE = 2000
# A stored name that could lead out of its storage is none of ours.
STORED_NAME = re.compile(r"[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*(\.[A-Za-z0-9]+)?")
Progress = Callable[[str, int], None]
ABOUT = """This is an archive of an outcomes and follow-up registry, in open formats.

manifest.json        what is inside: every member with its number of rows and its SHA-256
tables/NAME.ndjson   one table; each line is one row as JSON (RFC 8259), in UTF-8
schema/NAME.json     JSON Schema (draft 2020-12) of the lines: kinds, codes, limits, references
files/STORAGE/NAME   files that rows name, such as the pictures of films

Days are local calendar days (ISO 8601); moments are UTC; decimal numbers stand in text so that no
digit is lost; a key that ends in _id names a row of another table. registry_auditentry is the trail
of all changes. It holds names and what was found about people: keep it as you keep the records.
"""


@dataclass(frozen=True)
class Member:
    """One file of an archive; `rows` is there for tables."""

    path: str
    sha256: str
    rows: int | None = None


@dataclass
class Manifest:
    """What an archive says of itself. `site` is the code of the one site it holds, '' for all."""

    made_at: str
    code_version: str
    site: str
    migrations: Mapping[str, str]
    members: list[Member] = field(default_factory=list)

    @property
    def content_hash(self) -> str:
        """The hash of what is inside: equal for equal data, whenever the archive was made."""
        listed = sorted(f"{one.sha256} {one.path}" for one in self.members)
        return hashlib.sha256("\n".join(listed).encode()).hexdigest()

    @property
    def rows(self) -> int:
        """How many rows all tables have together."""
        return sum(one.rows or 0 for one in self.members)

    def as_json(self) -> dict[str, Any]:
        """Write the manifest as it stands in the archive."""
        return {
            "kind": KIND,
            "version": VERSION,
            "made_at": self.made_at,
            "code_version": self.code_version,
            "site": self.site,
            "migrations": dict(self.migrations),
            "content_sha256": self.content_hash,
            "members": [
                {"path": one.path, "sha256": one.sha256}
                | ({} if one.rows is None else {"rows": one.rows})
                for one in self.members
            ],
        }


def write(
    target: Path, manifest: Manifest, tables: Iterable[Table], progress: Progress
) -> Manifest:
    """Write an archive, readable by its owner alone; it is there whole or not at all.

    Raises BadInput where a file that a row names is not in its storage.
    """
    begun = target.with_name(f"{target.name}.begun")
    begun.unlink(missing_ok=True)
    begun.touch(mode=0o600)
    try:
        with zipfile.ZipFile(begun, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as packed:
            _add(packed, manifest, "README.txt", [ABOUT.encode()])
            for table in tables:
                _add_table(packed, manifest, table, progress)
            packed.writestr(MANIFEST, json.dumps(manifest.as_json(), indent=1))
        begun.replace(target)
    finally:
        begun.unlink(missing_ok=True)
    return manifest


def content_hash_of(tables: Iterable[Table], manifest: Manifest, progress: Progress) -> str:
    """Return the hash that an archive of these tables would have, without writing one."""
    _count(manifest, "README.txt", [ABOUT.encode()])
    for table in tables:
        _count_table(manifest, table, progress)
    return manifest.content_hash


class Archive:
    """An archive that is open for reading."""

    def __init__(self, packed: zipfile.ZipFile, manifest: Manifest) -> None:
        """Take the open file with what it says of itself."""
        self._packed = packed
        self.manifest = manifest

    def check(self, progress: Progress) -> None:
        """Hold every member against the hash in the manifest.

        Raises BadInput, which names the first that differs, is missing or is not listed.
        """
        listed = {one.path for one in self.manifest.members}
        there = {one for one in self._packed.namelist() if one != MANIFEST}
        for path in sorted(listed ^ there):
            told = "is missing from the archive" if path in listed else "is not in its manifest"
            raise BadInput(f"{path} {told}: this is not the archive that was made.")
        for one in self.manifest.members:
            found = hashlib.sha256()
            with self.open(one.path) as source:
                for block in iter(partial(source.read, BLOCK), b""):
                    found.update(block)
            if found.hexdigest() != one.sha256:
                raise BadInput(f"{one.path} was changed since the archive was made.")
            progress(one.path, 1)

    def rows(self, model: type[Model]) -> Iterator[Model]:
        """Yield the rows of a table, not saved yet.

        Raises BadInput for a line that is not a row of this table.
        """
        path = table_path(model)
        with self.open(path) as source:
            for number, written in enumerate(source, start=1):
                yield archive_rows.row_of(model, written, f"{path}, line {number},")

    @contextmanager
    def open(self, path: str) -> Iterator[IO[bytes]]:
        """Open a member. Raises BadInput where it cannot be unpacked."""
        try:
            with self._packed.open(path) as source:
                yield source
        except (zipfile.BadZipFile, KeyError, EOFError) as fault:
            raise BadInput(f"{path} cannot be unpacked: {fault}.") from fault

    def stored_files(self) -> Iterator[tuple[str, str, str]]:
        """Yield path, storage and name of each file beside the tables. Raises BadInput for odd names."""
        for one in self.manifest.members:
            folder, _, rest = one.path.partition("/")
            if folder == FILES:
                storage, _, name = rest.partition("/")
                if not STORED_NAME.fullmatch(name):
                    raise BadInput(f"{one.path} is not a name that a storage gives.")
                yield one.path, storage, name


@contextmanager
def opened(source: Path) -> Iterator[Archive]:
    """Open an archive and read its manifest.

    Raises BadInput for what is not an archive that this version reads.
    """
    try:
        packed = zipfile.ZipFile(source)
    except (OSError, zipfile.BadZipFile) as fault:
        raise BadInput(f"{source.name} cannot be opened as an archive: {fault}.") from fault
    with packed:
        yield Archive(packed, _manifest(packed, source.name))


def table_path(model: type[Model]) -> str:
    """Return the path of a table in an archive."""
    return f"tables/{model._meta.db_table}.ndjson"


def _manifest(packed: zipfile.ZipFile, name: str) -> Manifest:
    try:
        told = json.loads(packed.read(MANIFEST))
        if told["kind"] != KIND or told["version"] != VERSION:
            raise BadInput(f"{name} is of a kind or version that this service does not read.")
        members = [Member(m["path"], m["sha256"], m.get("rows")) for m in told["members"]]
        found = Manifest(
            told["made_at"], told["code_version"], told["site"], told["migrations"], members
        )
    except (KeyError, ValueError, TypeError, zipfile.BadZipFile) as fault:
        raise BadInput(f"{name} has no manifest that can be read: it is no archive.") from fault
    if found.content_hash != told.get("content_sha256"):
        raise BadInput(f"{name}: the manifest was changed since the archive was made.")
    return found


def _add(packed: zipfile.ZipFile, manifest: Manifest, path: str, blocks: Iterable[bytes]) -> None:
    with packed.open(path, "w", force_zip64=True) as target:
        _count(manifest, path, _through(blocks, target))


def _through(blocks: Iterable[bytes], target: IO[bytes]) -> Iterator[bytes]:
    for block in blocks:
        target.write(block)
        yield block


def _count(manifest: Manifest, path: str, blocks: Iterable[bytes], *, rows: bool = False) -> None:
    found, many = hashlib.sha256(), 0
    for block in blocks:
        found.update(block)
        many += 1
    manifest.members.append(Member(path, found.hexdigest(), many if rows else None))


def _add_table(
    packed: zipfile.ZipFile, manifest: Manifest, table: Table, progress: Progress
) -> None:
    with packed.open(table_path(table.model), "w", force_zip64=True) as target:
        lines = _through(_lines(table, progress), target)
        _count(manifest, table_path(table.model), lines, rows=True)
    _add(packed, manifest, *_schema(table.model))
    for path, blocks in _files(table):
        _add(packed, manifest, path, blocks)


def _count_table(manifest: Manifest, table: Table, progress: Progress) -> None:
    _count(manifest, table_path(table.model), _lines(table, progress), rows=True)
    _count(manifest, *_schema(table.model))
    for path, blocks in _files(table):
        _count(manifest, path, blocks)


def _lines(table: Table, progress: Progress) -> Iterator[bytes]:
    model = table.model
    names = [column.attname for column in archive_rows.columns(model)]
    for row in table.rows.values(*names).iterator(chunk_size=AT_ONCE):
        yield archive_rows.line(model, {**row, **table.instead})
        progress(model._meta.db_table, 1)


def _schema(model: type[Model]) -> tuple[str, list[bytes]]:
    told = json.dumps(archive_rows.schema(model), ensure_ascii=False, indent=1)
    return f"schema/{model._meta.db_table}.json", [told.encode()]


def _files(table: Table) -> Iterator[tuple[str, Iterator[bytes]]]:
    storage, column = getattr(table.model, "archived_file", ("", ""))
    if not storage:
        return
    names = table.rows.order_by(column).values_list(column, flat=True).distinct()
    for name in names.iterator(chunk_size=AT_ONCE):
        yield f"{FILES}/{storage}/{name}", _blocks(storage, name)


def _blocks(storage: str, name: str) -> Iterator[bytes]:
    try:
        with cast("IO[bytes]", storages[storage].open(name)) as source:
            yield from iter(partial(source.read, BLOCK), b"")
    except FileNotFoundError as fault:
        raise BadInput(
            f"The file {name} that a row names is not in the storage '{storage}': "
            "bring it back from a copy first, or void its row."
        ) from fault
