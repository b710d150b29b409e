"""Where the files of films lie: behind the storage that is set as 'films', under names that say nothing."""

import hashlib
import os
import secrets
from collections.abc import Iterator
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import IO, BinaryIO, cast

from django.core.files.base import File
from django.core.files.storage import Storage, storages

BLOCK = 1 << 20


def put(content: "File[bytes]") -> str:
    """Keep a file under a name drawn at random; return the name once the file has reached the disk."""
    token = secrets.token_hex(20)
    name: str = _store().save(f"{token[:2]}/{token}", content)
    try:
        kept = Path(_store().path(name))
    except NotImplementedError:
        # Where it is no folder of ours, whoever took it answers for it.
        return name
    for path in (kept, kept.parent):
        _reach_disk(path)
    return name


def measured(content: IO[bytes]) -> tuple[str, int]:
    """Return the SHA-256 and the length of a file, read from its start; it stands at its start again."""
    found, size = hashlib.sha256(), 0
    content.seek(0)
    for block in iter(partial(content.read, BLOCK), b""):
        found.update(block)
        size += len(block)
    content.seek(0)
    return found.hexdigest(), size


def _reach_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def open_file(name: str) -> BinaryIO:
    """Open a kept file for reading; the caller closes it. Raises FileNotFoundError."""
    return cast("BinaryIO", _store().open(name))


def size_of(name: str) -> int | None:
    """Return how many bytes a kept file has; None where it is not there."""
    try:
        return _store().size(name) if _store().exists(name) else None
    except FileNotFoundError:
        # It went between the two questions.
        return None


def drop(name: str) -> None:
    """Delete a kept file; one that is gone already is no fault."""
    _store().delete(name)


def kept() -> Iterator[tuple[str, datetime]]:
    """Yield the name of every kept file and since when it lies there."""
    store = _store()
    try:
        folders = store.listdir("")[0]
    except FileNotFoundError:
        # Nothing was ever kept.
        return
    for folder in folders:
        for name in store.listdir(folder)[1]:
            yield f"{folder}/{name}", store.get_modified_time(f"{folder}/{name}")


def _store() -> Storage:
    return storages["films"]
