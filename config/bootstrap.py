"""Prepares a clone on a bare machine and hands over to Django; uses the standard library only.

The syntax up to the version check stays plain, so that an old Python can still read it and say so.
"""

import sys


def python_fault(version: "tuple[int, ...]") -> str:
    """Return what is wrong with this Python's version, or nothing."""
    if version >= (3, 11):
        return ""
    found = ".".join(str(part) for part in version)
    return f"Holdfast needs Python 3.11 or newer, and this is {found}: make run PYTHON=python3.12"


if python_fault(sys.version_info[:3]):
    sys.exit(python_fault(sys.version_info[:3]))

import argparse  # noqa: E402 - after the version check
import hashlib  # noqa: E402
import importlib.util  # noqa: E402
import os  # noqa: E402
import re  # noqa: E402
import socket  # noqa: E402
import subprocess  # noqa: E402
import time  # noqa: E402
from pathlib import Path  # noqa: E402

HERE = Path(__file__).resolve().parent.parent
INSTALLER = "uv"
# What pip, uv and compilers say, and what it means for whoever typed the command.
FULL = (r"No space left on device",)
OFFLINE = (
    r"Failed to establish a new connection|name resolution|Network is unreachable|dns error",
    r"Connection (refused|reset|timed out|broken)|Read timed out|ConnectTimeout|ProxyError",
    r"error sending request|CERTIFICATE_VERIFY_FAILED",
)
CHANGED = (r"do not match the hashes|hash mismatch",)
NO_COMPILER = (
    r"(command|unable to execute|No such file or directory:) '\S*(cc|clang|\+\+)'",
    r"Unknown compiler|CMAKE_C(XX)?_COMPILER|Microsoft Visual C\+\+|C compiler cannot",
    r"\bPython\.h\b|(find|install\w*) Rust|Rust toolchain|cargo\W.*not (found|installed)",
)
NO_FORM = (r"No matching distribution|no versions? of|has no wheels|No solution found",)
READ_ONLY = (r"Permission denied|Read-only file system",)
FAILURES = {
    FULL: "the disk is full: make room (about 1 GB)",
    OFFLINE: "the package server cannot be reached: check the network, or pip's own settings",
    CHANGED: "a package differs from the one that was locked: do not use it, tell the maintainers",
    NO_COMPILER: (
        "a package has no ready-made form for this machine, and there is no compiler to build it: "
        "install one (Debian, Ubuntu: apt-get install build-essential python3-dev)"
    ),
    NO_FORM: (
        "a package has no form for this Python or machine: "
        "use Python 3.11 to 3.13 on Linux or macOS"
    ),
    READ_ONLY: "this folder cannot be written to: use a clone of your own",
}


class CannotStart(Exception):
    """Something that the user can mend stands in the way; the text says what, in one line."""


def explain(output: str) -> str:
    """Return what the installer's failure means, in one line."""
    for patterns, meaning in FAILURES.items():
        if any(re.search(pattern, output, re.IGNORECASE) for pattern in patterns):
            return meaning
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    return lines[-1] if lines else "the installer stopped without a word"


def port_number(given: str) -> int:
    """Return the port; raise CannotStart when it is none."""
    if given.isdecimal() and 1 <= int(given) <= 65535:
        return int(given)
    raise CannotStart(f"PORT is '{given}': write a number from 1 to 65535")


def refuse_taken(port: int) -> None:
    """Raise CannotStart when the port cannot be listened on."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except PermissionError:
            raise CannotStart(f"port {port} is reserved: try make run PORT=8000") from None
        except OSError:
            raise CannotStart(
                f"port {port} is in use: stop what runs there, or make run PORT={port + 1}"
            ) from None


def refuse_without_venv() -> None:
    """Raise CannotStart where Python comes without what makes virtual environments."""
    if not all(importlib.util.find_spec(name) for name in ("venv", "ensurepip")):
        raise CannotStart(
            "Python cannot make a virtual environment: install its venv module "
            "(Debian, Ubuntu: apt-get install python3-venv)"
        )


def locked(requirement: str, lock: str) -> str:
    """Return the lines of one package, hashes and all, from the text of a lock file."""
    found = re.search(rf"^{re.escape(requirement)}==(?:.*\\\n)*.*", lock, re.MULTILINE)
    if found is None:
        raise CannotStart(f"the lock file does not name {requirement}: restore it from git")
    return found.group() + "\n"


class Setup:
    """The virtual environment of one clone and the lock file that it follows."""

    def __init__(self, folder: Path, lock: Path) -> None:
        """Name the places; nothing is touched yet."""
        self.lock = lock
        self.venv = folder / ".venv"
        self.python = self.venv / "bin" / "python"
        self.stamp = self.venv / "holdfast-lock"
        self.log = folder / "var" / "setup.log"

    def wanted(self) -> str:
        """Return what the stamp says once this lock is installed for this Python."""
        version = ".".join(str(part) for part in sys.version_info[:2])
        return f"{version} {hashlib.sha256(self.lock.read_bytes()).hexdigest()}"

    def made_for(self) -> str:
        """Return the Python that the environment was made for, like '3.11', or nothing."""
        facts = self.venv / "pyvenv.cfg"
        found = (
            re.search(r"^version *= *(\d+\.\d+)", facts.read_text(), re.M)
            if facts.exists()
            else None
        )
        return found.group(1) if found and self.python.exists() else ""

    def is_ready(self, *also: "Setup") -> bool:
        """Say whether this lock, or one that includes it, is installed already."""
        if not self.python.exists() or not self.stamp.exists():
            return False
        return self.stamp.read_text() in {self.wanted(), *(other.wanted() for other in also)}

    def make(self) -> None:
        """Bring the environment to the lock; raise CannotStart with what stands in the way."""
        refuse_without_venv()
        self.log.parent.mkdir(parents=True, exist_ok=True)
        self.log.write_text("")
        self.stamp.unlink(missing_ok=True)
        same = self.made_for() == self.wanted().split()[0]
        clear = [] if same else ["--clear"]
        self._step(
            "Making the virtual environment", [sys.executable, "-m", "venv", *clear, str(self.venv)]
        )
        count = len(re.findall(r"^\S+==", self.lock.read_text(), re.MULTILINE))
        self._install(f"Installing up to {count} packages, each checked against its hash")
        self.stamp.write_text(self.wanted())

    def _install(self, words: str) -> None:
        pip = [str(self.python), "-m", "pip", "--disable-pip-version-check", "install", "--quiet"]
        chosen = self.log.with_name("installer.txt")
        chosen.write_text(locked(INSTALLER, self.lock.read_text()))
        quick = [str(self.venv / "bin" / INSTALLER), "pip", "sync", "--quiet", "--require-hashes"]
        try:
            self._step(
                "Fetching the installer", [*pip, "--require-hashes", "--no-deps", "-r", str(chosen)]
            )
            self._step(words, [*quick, "--python", str(self.python), str(self.lock)])
        except CannotStart:
            # Plain pip knows settings (a mirror, a proxy, certificates) that the quick one ignores.
            self._step(f"{words}, with pip", [*pip, "--require-hashes", "-r", str(self.lock)])

    def _step(self, words: str, command: list[str]) -> None:
        sys.stdout.write(f"{words} ...")
        sys.stdout.flush()
        began = time.monotonic()
        before = self.log.stat().st_size
        with self.log.open("a") as log:
            try:
                code = subprocess.run(command, stdout=log, stderr=log, check=False).returncode  # noqa: S603 - words of our own
            except OSError as fault:
                log.write(f"{fault}\n")
                code = 1
        sys.stdout.write(f" {time.monotonic() - began:.0f} s\n" if code == 0 else " failed\n")
        sys.stdout.flush()
        if code != 0:
            said = self.log.read_text()[before:]
            raise CannotStart(f"{explain(said)}. Everything that was said is in {self.log}")


def prepare(*, for_tests: bool) -> Path:
    """Make the environment follow its lock where it does not yet; return its Python."""
    run = Setup(HERE, HERE / "requirements.txt")
    test = Setup(HERE, HERE / "requirements-dev.txt")
    chosen, also = (test, ()) if for_tests else (run, (test,))
    if not chosen.is_ready(*also):
        chosen.make()
    return chosen.python


def parsed(arguments: list[str]) -> argparse.Namespace:
    """Return what was asked for on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("act", choices=("run", "tests"))
    parser.add_argument("--port", default="8000")
    return parser.parse_args(arguments)


def main(arguments: list[str]) -> None:
    """Prepare the clone; for 'run', become the server."""
    asked = parsed(arguments)
    if asked.act == "tests":
        prepare(for_tests=True)
        return
    port = port_number(asked.port)
    refuse_taken(port)
    python = str(prepare(for_tests=False))
    os.chdir(HERE)
    os.execv(python, [python, "manage.py", "serve", "--port", str(port)])  # noqa: S606 - our own command


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except CannotStart as fault:
        sys.exit(f"Cannot start: {fault}.")
    except KeyboardInterrupt:
        sys.exit("Stopped.")
