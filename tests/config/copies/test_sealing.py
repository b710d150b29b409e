"""What is encrypted for a public key opens with its secret key alone, and only where it is whole."""

import os
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

from config.copies import sealing
from config.copies.manifest import CopyFault

CONTENT = os.urandom(400_000)


@pytest.fixture
def written(tmp_path: Path) -> Path:
    keys = sealing.recipients([sealing.new_key(tmp_path / "key")])
    with (
        (tmp_path / "sealed").open("wb") as file,
        sealing.sealed(sealing.Hashing(file), keys) as out,
    ):
        for start in range(0, len(CONTENT), 1000):
            out.write(CONTENT[start : start + 1000])
    return tmp_path / "sealed"


def read(file: Path, key: Path) -> bytes:
    with file.open("rb") as source, sealing.opened(source, sealing.identities(key), "it") as plain:
        return plain.read()


def test_what_was_written_is_read_with_the_key(written: Path, tmp_path: Path) -> None:
    assert read(written, tmp_path / "key") == CONTENT
    assert CONTENT[:64] not in written.read_bytes()
    assert (tmp_path / "key").stat().st_mode & 0o777 == 0o600


def test_another_key_opens_nothing(written: Path, tmp_path: Path) -> None:
    sealing.new_key(tmp_path / "other")
    with pytest.raises(CopyFault, match="it was not encrypted for this key"):
        read(written, tmp_path / "other")


@pytest.mark.parametrize(
    "harm",
    [
        lambda content: content[:-1],
        lambda content: content[: len(content) // 2],
        lambda content: content[:70_000] + bytes([content[70_000] ^ 1]) + content[70_001:],
        lambda content: content + b"more",
        lambda content: b"",
    ],
    ids=["cut at its end", "cut in half", "a flipped bit", "made longer", "empty"],
)
def test_what_is_not_whole_is_refused(
    written: Path, tmp_path: Path, harm: Callable[[bytes], bytes]
) -> None:
    written.write_bytes(harm(written.read_bytes()))
    with pytest.raises(CopyFault, match="it is damaged or cut short"):
        read(written, tmp_path / "key")


def test_a_reader_that_stops_early_still_hears_of_damage_behind(
    written: Path, tmp_path: Path
) -> None:
    content = bytearray(written.read_bytes())
    content[-5] ^= 1
    written.write_bytes(content)
    keys = sealing.identities(tmp_path / "key")
    with (
        pytest.raises(CopyFault, match="damaged or cut short"),
        written.open("rb") as source,
        sealing.opened(source, keys, "it") as plain,
    ):
        assert plain.read(10) == CONTENT[:10]


def test_a_fault_of_the_reader_is_told_as_it_is(written: Path, tmp_path: Path) -> None:
    keys = sealing.identities(tmp_path / "key")
    with (
        pytest.raises(tarfile.ReadError),
        written.open("rb") as source,
        sealing.opened(source, keys, "it") as plain,
    ):
        tarfile.open(fileobj=plain, mode="r|").close()


def test_keys_are_not_overwritten_and_wrong_ones_are_named(tmp_path: Path) -> None:
    sealing.new_key(tmp_path / "key")
    with pytest.raises(CopyFault, match="The key was not written: File exists"):
        sealing.new_key(tmp_path / "key")
    with pytest.raises(CopyFault, match="cannot be read"):
        sealing.identities(tmp_path / "no")
    (tmp_path / "text").write_text("hello")
    with pytest.raises(CopyFault, match="holds no secret key"):
        sealing.identities(tmp_path / "text")
