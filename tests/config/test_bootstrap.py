"""What stands in the way of a first start is said in one line."""

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from config import bootstrap

ROOT = Path(__file__).resolve().parents[2]
OLD = """
import runpy, sys
sys.version_info = (3, 9, 2, "final", 0)
sys.argv = ["config/bootstrap.py", "run"]
runpy.run_path("config/bootstrap.py", run_name="__main__")
"""
OFFLINE = """
WARNING: Retrying after connection broken by 'Failed to establish a new connection'
ERROR: No matching distribution found for amqp==5.4.2
"""
LOCK = """amqp==5.4.2 \\
    --hash=sha256:aa \\
    --hash=sha256:bb
uv==0.13.9 \\
    --hash=sha256:cc \\
    --hash=sha256:dd
vine==5.1.0 \\
    --hash=sha256:ee
"""


def said_by(*command: str, **settings: str) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, *command],
        cwd=ROOT,
        env={**os.environ, **settings},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def test_a_python_that_is_too_old_is_named_in_one_line() -> None:
    code, said = said_by("-c", OLD)
    assert code == 1
    assert said.splitlines() == [
        "Holdfast needs Python 3.11 or newer, and this is 3.9.2: make run PYTHON=python3.12"
    ]


def test_python_3_11_is_new_enough() -> None:
    assert bootstrap.python_fault((3, 11, 0)) == ""
    assert bootstrap.python_fault((3, 10, 9)) != ""


def test_a_port_in_use_is_named_before_anything_is_installed() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        code, said = said_by("config/bootstrap.py", "run", "--port", str(port))
    assert code == 1
    assert said.splitlines() == [
        f"Cannot start: port {port} is in use: stop what runs there, or make run PORT={port + 1}."
    ]


@pytest.mark.parametrize("given", ["", "http", "0", "70000", "-1", "80.5"])
def test_what_is_no_port_is_said_with_what_to_write(given: str) -> None:
    code, said = said_by("config/bootstrap.py", "run", f"--port={given}")
    assert code == 1
    assert said == f"Cannot start: PORT is '{given}': write a number from 1 to 65535.\n"


@pytest.mark.parametrize(
    ("output", "meaning"),
    [
        ("error: [Errno 2] No such file or directory: 'gcc'", "no compiler"),
        ("error: command 'x86_64-linux-gnu-gcc' failed: No such file or directory", "no compiler"),
        ("unable to execute 'clang': No such file or directory", "no compiler"),
        ("ERROR: Unknown compiler(s): [['cc'], ['gcc']]", "no compiler"),
        ("fatal error: Python.h: No such file or directory", "no compiler"),
        ("error: can't find Rust compiler", "no compiler"),
        (OFFLINE, "cannot be reached"),
        ("error: dns error: failed to lookup address information", "cannot be reached"),
        ("ERROR: No matching distribution found for numpy==2.4.6", "no form for this Python"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS", "locked"),
        ("OSError: [Errno 28] No space left on device", "disk is full"),
        ("PermissionError: [Errno 13] Permission denied: '.venv'", "cannot be written"),
        ("nothing that is known\n  the last line\n\n", "the last line"),
    ],
)
def test_the_failure_of_an_installer_is_explained(output: str, meaning: str) -> None:
    explained = bootstrap.explain(output)
    assert meaning in explained.replace("there is no compiler", "no compiler")
    assert "\n" not in explained


def test_an_installer_that_says_nothing_is_reported_as_such() -> None:
    assert bootstrap.explain("\n") == "the installer stopped without a word"


def test_the_lines_of_one_package_are_taken_with_all_their_hashes() -> None:
    assert bootstrap.locked("uv", LOCK).split() == [
        "uv==0.13.9",
        "\\",
        "--hash=sha256:cc",
        "\\",
        "--hash=sha256:dd",
    ]
    with pytest.raises(bootstrap.CannotStart, match="does not name pip"):
        bootstrap.locked("pip", LOCK)


@pytest.fixture
def made(tmp_path: Path) -> bootstrap.Setup:
    """A clone whose environment is made and whose lock asks for nothing."""
    lock = tmp_path / "requirements.txt"
    lock.write_text(LOCK)
    setup = bootstrap.Setup(tmp_path, lock)
    setup.python.parent.mkdir(parents=True)
    setup.python.symlink_to(sys.executable)
    setup.stamp.write_text(setup.wanted())
    return setup


def test_a_second_start_installs_nothing(made: bootstrap.Setup) -> None:
    assert made.is_ready()


def test_a_changed_lock_is_installed_again(made: bootstrap.Setup) -> None:
    made.lock.write_text(LOCK + "wcwidth==0.9.4\n")
    assert not made.is_ready()


def test_an_environment_whose_python_is_gone_is_made_again(made: bootstrap.Setup) -> None:
    made.python.unlink()
    made.python.symlink_to(made.python.parent / "gone")
    assert not made.is_ready()


def test_the_tools_of_the_tests_do_not_get_in_the_way_of_a_run(
    made: bootstrap.Setup, tmp_path: Path
) -> None:
    wider = tmp_path / "requirements-dev.txt"
    wider.write_text(LOCK + "pytest==9.2.0\n")
    tests = bootstrap.Setup(tmp_path, wider)
    tests.stamp.write_text(tests.wanted())
    assert not made.is_ready()
    assert made.is_ready(tests)


def test_a_server_that_cannot_be_reached_leaves_one_line_and_a_log(tmp_path: Path) -> None:
    lock = tmp_path / "requirements.txt"
    lock.write_text((ROOT / "requirements.txt").read_text())
    # A port where nobody listens stands for a machine without a network.
    offline = {
        "PIP_CONFIG_FILE": os.devnull,
        "PIP_FIND_LINKS": "",
        "PIP_NO_CACHE_DIR": "1",
        "PIP_RETRIES": "1",
        "PIP_INDEX_URL": "http://127.0.0.1:9/",
        "PIP_EXTRA_INDEX_URL": "",
    }
    tried = (
        "from pathlib import Path; from config import bootstrap;"
        f"here = Path({str(tmp_path)!r});"
        "bootstrap.Setup(here, here / 'requirements.txt').make()"
    )
    code, said = said_by("-c", tried, **offline)
    assert code == 1
    assert "the package server cannot be reached" in said.splitlines()[-1]
    assert "Failed to establish a new connection" in (tmp_path / "var" / "setup.log").read_text()
    assert not (tmp_path / ".venv" / "holdfast-lock").exists()
