"""The files that lie beside the database: those of films, and what was sent and made."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Any, cast

from django.apps import apps
from django.core.files.storage import storages

from config.copies.manifest import CopyFault

# Pictures of films, and files of cases and of copies that were asked for.
STORAGES = ("films", "default")


@dataclass(frozen=True)
class Stored:
    """One file: in which storage, and its name there."""

    storage: str
    name: str

    @property
    def member(self) -> str:
        """Its path in a copy."""
        return f"files/{self.storage}/{self.name}"


def everything() -> Iterator[Stored]:
    """Yield every file of every storage, in the order of their names."""
    for alias in STORAGES:
        for name in _listed(alias, ""):
            yield Stored(alias, name)


def _listed(alias: str, folder: str) -> Iterator[str]:
    try:
        folders, names = storages[alias].listdir(folder)
    except FileNotFoundError:
        return
    for name in sorted(names):
        yield f"{folder}/{name}" if folder else name
    for inner in sorted(folders):
        yield from _listed(alias, f"{folder}/{inner}" if folder else inner)


def opened(file: Stored) -> IO[bytes] | None:
    """Open a file for reading; None where it has gone meanwhile."""
    try:
        return cast("IO[bytes]", storages[file.storage].open(file.name))
    except FileNotFoundError:
        return None


def named(moment: Any) -> Iterator[Stored]:
    """Yield the files that rows of a database name which are not void."""
    tables = set(moment.tables())
    for model in apps.get_models():
        alias, column = getattr(model, "archived_file", ("", ""))
        table = model._meta.db_table
        if alias and table in tables:
            query = f'SELECT "{column}" FROM "{table}" WHERE voided_at IS NULL ORDER BY id'
            for (name,) in moment.rows(query):
                yield Stored(alias, name)


def of_member(path: str) -> Stored:
    """Return the file that a member of a copy is. Raises CopyFault for a path that is none."""
    word, _, rest = path.partition("/")
    alias, _, name = rest.partition("/")
    parts = name.split("/")
    if word != "files" or alias not in STORAGES or not all(parts) or {".", ".."} & set(parts):
        raise CopyFault(f"The copy holds '{path}', which is no file of the service.")
    return Stored(alias, name)


def opened_no_more(file: Stored) -> bool:
    """Say whether a file is not in its storage."""
    return not storages[file.storage].exists(file.name)
