"""What a copy says of itself, inside it and, but for what only the key may show, in a file beside it."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from registry.errors import HoldfastError

KIND, VERSION = "holdfast-copy", 1


class CopyFault(HoldfastError):
    """A copy cannot be made, read or put back; the text says why, and what stands now."""


@dataclass(frozen=True)
class Content:
    """How much of something there is, and its SHA-256: rows of a table, or bytes of a file."""

    size: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """When and by which code a copy was made, and what is in it.

    `migrations` are the newest ones applied, by application. `tables` count rows. `files` is the list of
    the files beside the database, and `missing` are those that rows name and that were not there.
    `secret` tells by a hash whether a service has the same HOLDFAST_SECRET_KEY.
    """

    made_at: str
    code_version: str
    engine: str
    engine_version: str
    migrations: Mapping[str, str]
    tables: Mapping[str, Content]
    database: Content
    files: Content
    file_bytes: int
    missing: tuple[str, ...] = ()
    secret: str = ""
    kind: str = field(default=KIND)
    version: int = field(default=VERSION)

    @property
    def rows(self) -> int:
        """How many rows all tables have together."""
        return sum(one.size for one in self.tables.values())

    def as_json(self, *, secret: bool) -> dict[str, Any]:
        """Return it as plain values; `secret` says whether what only the key may show is in it."""
        told = asdict(self)
        return told if secret else {name: told[name] for name in told if name != "secret"}


def from_json(text: bytes) -> Manifest:
    """Read a manifest. Raises CopyFault for what is none that this version reads."""
    try:
        told = json.loads(text)
        if (told["kind"], told["version"]) != (KIND, VERSION):
            raise CopyFault(
                f"This is a copy of the kind '{told['kind']}', version {told['version']}; here "
                f"'{KIND}', version {VERSION}, is read. Use the code that made it, or a newer one."
            )
        contents = {name: Content(**told[name]) for name in ("database", "files")}
        tables = {name: Content(**one) for name, one in told["tables"].items()}
        return Manifest(**{**told, **contents, "tables": tables, "missing": tuple(told["missing"])})
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise CopyFault(f"The copy has no manifest that can be read ({fault}).") from fault


def secret_of(key: str) -> str:
    """Return by what two services know that they have the same secret key, without telling it."""
    return hashlib.sha256(b"holdfast copy\n" + key.encode()).hexdigest()[:32]
