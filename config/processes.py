"""Child processes that end with us: each leads a group of its own, so that none is left behind."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

STOP_SECONDS = 10.0
# The Linux request that asks for a signal when the parent dies (prctl(2)).
PR_SET_PDEATHSIG = 1


@dataclass(frozen=True)
class Child:
    """One running program and the file that takes what it says."""

    name: str
    process: subprocess.Popen[bytes]
    log: Path

    def is_alive(self) -> bool:
        """Say whether the program itself still runs."""
        return self.process.poll() is None

    def last_words(self, lines: int = 3) -> str:
        """Return the end of what it said."""
        said = [line for line in self.log.read_text(errors="replace").splitlines() if line.strip()]
        return "\n".join(said[-lines:])


def start(
    name: str, command: Sequence[str], *, logs: Path, env: Mapping[str, str] | None = None
) -> Child:
    """Start a program; its log is `<name>.log`, and the one before is kept beside it."""
    log = logs / f"{name.replace(' ', '-')}.log"
    log.parent.mkdir(parents=True, exist_ok=True)
    if log.exists():
        log.replace(log.with_suffix(".before.log"))
    with log.open("wb") as said:
        process = subprocess.Popen(  # noqa: S603 - the commands are our own
            command,
            stdin=subprocess.DEVNULL,
            stdout=said,
            stderr=subprocess.STDOUT,
            env=env,
            start_new_session=True,
            preexec_fn=_end_with_parent,  # noqa: PLW1509 - no thread runs in the starting process
        )
    return Child(name, process, log)


def stop(children: Sequence[Child], *, within: float = STOP_SECONDS) -> None:
    """Ask every child to end and wait; whatever stays, its own children included, is killed."""
    for child in children:
        _signal_group(child, signal.SIGTERM)
    until = time.monotonic() + within
    for child in children:
        try:
            child.process.wait(max(0.0, until - time.monotonic()))
        except subprocess.TimeoutExpired:
            continue
    for child in children:
        _signal_group(child, signal.SIGKILL)
        child.process.wait()


def _signal_group(child: Child, number: int) -> None:
    try:
        os.killpg(child.process.pid, number)
    except (ProcessLookupError, PermissionError):
        # The whole group has ended; macOS says 'not permitted' for a group of ended processes.
        return


def _end_with_parent() -> None:
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
