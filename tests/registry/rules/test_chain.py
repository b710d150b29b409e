import hashlib
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from registry.rules import chain
from registry.rules.chain import BrokenLink, SealedEntry


def sealed(count: int) -> list[SealedEntry]:
    entries, previous = [], chain.START
    for position in range(1, count + 1):
        facts = {"position": position, "who": "Zo\u00eb", "after": {"b": 1, "a": None}}
        seal = chain.seal(previous, facts)
        entries.append(SealedEntry(position, facts, previous, seal))
        previous = seal
    return entries


def test_a_chain_that_was_left_alone_holds() -> None:
    assert chain.first_broken_link(sealed(50)) is None


def test_an_empty_chain_holds() -> None:
    assert chain.first_broken_link([]) is None


def test_the_order_of_facts_changes_no_hash() -> None:
    assert chain.canonical({"b": 1, "a": "\u00e9"}) == chain.canonical({"a": "\u00e9", "b": 1})
    assert chain.canonical({"b": 1, "a": "\u00e9"}) == b'{"a":"\xc3\xa9","b":1}'


def test_a_seal_is_the_sha256_over_the_one_before_and_the_entry() -> None:
    wanted = hashlib.sha256(b"0" * 64 + b'\n{"a":1}').hexdigest()
    assert chain.seal(chain.START, {"a": 1}) == wanted


def test_values_that_are_no_json_cannot_be_sealed() -> None:
    with pytest.raises(ValueError, match="JSON"):
        chain.canonical({"a": float("nan")})


def test_a_changed_entry_is_named() -> None:
    entries = sealed(5)
    entries[2] = replace(entries[2], facts={**entries[2].facts, "who": "Zoe"})
    assert chain.first_broken_link(entries) == BrokenLink(
        3, "its content was changed after sealing"
    )


def test_a_changed_entry_that_was_sealed_again_breaks_the_next() -> None:
    entries = sealed(5)
    facts = {**entries[2].facts, "who": "Zoe"}
    entries[2] = replace(entries[2], facts=facts, hash=chain.seal(entries[2].previous_hash, facts))
    assert chain.first_broken_link(entries) == BrokenLink(
        4, "it does not follow the entry before it"
    )


@pytest.mark.parametrize("gone", [0, 2, 4])
def test_an_entry_that_was_taken_out_is_missed(gone: int) -> None:
    entries = sealed(6)
    del entries[gone]
    assert chain.first_broken_link(entries) == BrokenLink(gone + 1, "an entry is missing")


def test_entries_that_changed_places_are_missed() -> None:
    entries = sealed(4)
    entries[1], entries[2] = entries[2], entries[1]
    assert chain.first_broken_link(entries) == BrokenLink(2, "an entry is missing")


def test_a_chain_is_read_only_as_far_as_it_holds() -> None:
    seen: list[int] = []

    def read(entries: list[SealedEntry]) -> Iterator[SealedEntry]:
        for entry in entries:
            seen.append(entry.position)
            yield entry

    entries = sealed(100)
    tampered: dict[str, Any] = {"who": "somebody else"}
    entries[9] = replace(entries[9], facts=tampered)
    chain.first_broken_link(read(entries))
    assert seen == list(range(1, 11))
