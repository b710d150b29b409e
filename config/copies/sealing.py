"""Encrypting a stream for public keys and back, in the age format, while hashing what passes.

Encryption pulls and a tar file pushes, so that each runs in a thread of its own with a pipe between.
"""

import hashlib
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any, BinaryIO

import pyrage

from config.copies.manifest import CopyFault


class Hashing:
    """A file that is written through, with the hash and length of what was written."""

    def __init__(self, target: IO[bytes]) -> None:
        """Take the file that is written to."""
        self._target, self._hash = target, hashlib.sha256()
        self.size = 0
        self.fault: OSError | None = None

    def write(self, block: bytes) -> int:
        """Write a block, all of it."""
        try:
            self._target.write(block)
        except OSError as fault:
            # The library says its own words about it; these are the ones that matter.
            self.fault = fault
            raise
        self._hash.update(block)
        self.size += len(block)
        return len(block)

    def flush(self) -> None:
        """Hand on what is held back."""
        self._target.flush()

    @property
    def sha256(self) -> str:
        """The hash of what was written."""
        return self._hash.hexdigest()


def recipients(written: Sequence[str]) -> list[Any]:
    """Return public keys by their text. Raises CopyFault, which names the one that is none."""
    found = []
    for one in written:
        try:
            found.append(pyrage.x25519.Recipient.from_str(one))
        except pyrage.RecipientError as fault:
            raise CopyFault(
                f"'{one}' is no public key: it begins with age1 ({fault}). Make one with "
                "keep_copy --new-key FILE."
            ) from fault
    if not found:
        raise CopyFault("Nobody is named for whom a copy is encrypted: set HOLDFAST_COPIES_FOR.")
    return found


def identities(path: Path) -> list[Any]:
    """Return the secret keys in a file. Raises CopyFault where there is none."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as fault:
        raise CopyFault(f"The key {path} cannot be read: {fault}.") from fault
    found = []
    for line in lines:
        if line.strip().startswith("AGE-SECRET-KEY-"):
            with suppress(pyrage.IdentityError):
                found.append(pyrage.x25519.Identity.from_str(line.strip()))
    if not found:
        raise CopyFault(f"{path} holds no secret key: a line that begins with AGE-SECRET-KEY-.")
    return found


def new_key(path: Path) -> str:
    """Write a new secret key that its owner alone can read; return its public key.

    Raises CopyFault where the file is there already.
    """
    key = pyrage.x25519.Identity.generate()
    public = str(key.to_public())
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError as fault:
        raise CopyFault(f"The key was not written: {fault.strerror}, {path}.") from fault
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(f"# public key: {public}\n{key}\n")
    return public


@contextmanager
def sealed(target: Hashing, keys: Sequence[Any]) -> Iterator[Hashing]:
    """Give a file; what is written to it arrives in the target encrypted for the keys.

    Raises CopyFault where it cannot be written.
    """
    with _joined(lambda source, _: pyrage.encrypt_io(source, target, keys), down=False) as joined:
        passing = Hashing(joined.ours)
        try:
            yield passing
        except BaseException:
            joined.give_up()
            if target.fault is not None:
                raise not_written(target.fault) from target.fault
            raise
        joined.end()
        fault = target.fault or joined.fault
        if fault is not None:
            raise not_written(fault) from fault


@contextmanager
def opened(source: BinaryIO, keys: Sequence[Any], name: str) -> Iterator[IO[bytes]]:
    """Give a file from which the decrypted content is read.

    Raises CopyFault where no key fits, or the file is not whole.
    """
    with _joined(lambda _, target: pyrage.decrypt_io(source, target, keys), down=True) as joined:
        try:
            yield joined.ours
            # The end of the stream is held to account as well: it is read to it.
            while joined.ours.read(1 << 20):
                pass
        except BaseException:
            joined.give_up()
            if joined.fault is not None and not isinstance(joined.fault, BrokenPipeError):
                raise _unreadable(joined.fault, name) from joined.fault
            raise
        joined.end()
        if joined.fault is not None:
            raise _unreadable(joined.fault, name) from joined.fault


def not_written(fault: Exception) -> CopyFault:
    """Say that a copy could not be written, and that nothing is left of it."""
    said = getattr(fault, "strerror", None) or str(fault)
    return CopyFault(f"The copy could not be written: {said}. Nothing was kept of it.")


def _unreadable(fault: Exception, name: str) -> CopyFault:
    if "No matching keys" in str(fault):
        return CopyFault(f"{name} was not encrypted for this key: take the key that fits.")
    return CopyFault(
        f"{name} is damaged or cut short: it cannot be decrypted ({fault}). Take another copy."
    )


class _Joined:
    """A pipe with a thread at its other end; what went wrong there is kept."""

    def __init__(self, work: Callable[[Any, Any], object], *, down: bool) -> None:
        read, write = os.pipe()
        source: IO[bytes] = os.fdopen(read, "rb")
        target: IO[bytes] = os.fdopen(write, "wb")
        self.ours, theirs = (source, target) if down else (target, source)
        self.fault: Exception | None = None

        def run() -> None:
            try:
                with theirs:
                    work(source, target)
            except Exception as fault:  # noqa: BLE001 - told by whoever waits for it
                self.fault = fault

        self._thread = threading.Thread(target=run, daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Close our end and wait for the other."""
        try:
            self.ours.close()
        except OSError as fault:
            self.fault = self.fault or fault
        self._thread.join()

    def give_up(self) -> None:
        """Close our end, whatever is left in it, and wait for the other."""
        with suppress(OSError, ValueError):
            self.ours.close()
        self._thread.join()


@contextmanager
def _joined(work: Callable[[Any, Any], object], *, down: bool) -> Iterator[_Joined]:
    joined = _Joined(work, down=down)
    try:
        yield joined
    finally:
        joined.give_up()
