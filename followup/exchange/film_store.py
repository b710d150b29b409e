"""Where the files of films lie: behind the storage that is set as 'films', under names that say nothing."""

import secrets
from collections.abc import Iterator
from datetime import datetime
from typing import BinaryIO, cast

from django.core.files.base import File
from django.core.files.storage import Storage, storages


def put(content: "File[bytes]") -> str:
    """Keep a file under a name drawn at random; return the name."""
    token = secrets.token_hex(20)
    name: str = _store().save(f"{token[:2]}/{token}", content)
    return name


def open_file(name: str) -> BinaryIO:
    """Open a kept file for reading; the caller closes it. Raises FileNotFoundError."""
    return cast("BinaryIO", _store().open(name))


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
