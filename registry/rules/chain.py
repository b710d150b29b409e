"""The hash chain of the audit trail: each entry's hash covers the one before it."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

START = "0" * 64
_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)


@dataclass(frozen=True)
class SealedEntry:
    """One entry with the hashes that were stored beside it.

    `older_facts` are what a seal covered before it covered as much as `facts`; None where nothing else did.
    """

    position: int
    facts: Mapping[str, Any]
    previous_hash: str
    hash: str
    older_facts: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class BrokenLink:
    """The first place at which the chain does not hold, and in what way."""

    position: int
    what: str


def canonical(facts: Mapping[str, Any]) -> bytes:
    """Return one unambiguous byte form of an entry: sorted keys, no spaces, UTF-8."""
    return _ENCODER.encode(facts).encode()


def seal(previous_hash: str, facts: Mapping[str, Any]) -> str:
    """Return the SHA-256 over the previous hash and the entry (FIPS 180-4), in hexadecimal."""
    return hashlib.sha256(previous_hash.encode() + b"\n" + canonical(facts)).hexdigest()


def first_broken_link(entries: Iterable[SealedEntry]) -> BrokenLink | None:
    """Walk a chain in order of position and return where it first fails, None when it holds."""
    expected_position, previous = 1, START
    for entry in entries:
        if entry.position != expected_position:
            return BrokenLink(expected_position, "an entry is missing")
        if entry.previous_hash != previous:
            return BrokenLink(entry.position, "it does not follow the entry before it")
        if not _is_sealed(entry, previous):
            return BrokenLink(entry.position, "its content was changed after sealing")
        expected_position, previous = expected_position + 1, entry.hash
    return None


def _is_sealed(entry: SealedEntry, previous: str) -> bool:
    known = (entry.facts, entry.older_facts)
    return any(facts is not None and entry.hash == seal(previous, facts) for facts in known)
