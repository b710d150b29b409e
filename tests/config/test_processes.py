"""Children end with us, and theirs with them."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from config import processes

ROOT = Path(__file__).resolve().parents[2]
STUBBORN = """
import signal, time
signal.signal(signal.SIGTERM, signal.SIG_IGN)
print("deaf", flush=True)
time.sleep(60)
"""
WITH_CHILD = """
import subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
print(child.pid, flush=True)
time.sleep(60)
"""

PARENT = """
import sys, time
from pathlib import Path
from config import processes
child = processes.start(
    "one", [sys.executable, "-c", "import time; time.sleep(60)"], logs=Path(sys.argv[1])
)
print(child.process.pid, flush=True)
time.sleep(60)
"""


def until(true: Callable[[], object], seconds: float = 10.0) -> bool:
    end = time.monotonic() + seconds
    while not true():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def is_gone(pid: int) -> bool:
    """Say whether a process has ended; one that nobody has collected yet has."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except FileNotFoundError:
        return True
    return state == "Z"


def start(code: str, logs: Path) -> processes.Child:
    child = processes.start("one child", [sys.executable, "-c", code], logs=logs)
    assert until(child.log.read_text)
    return child


def test_a_child_and_its_own_child_are_stopped(tmp_path: Path) -> None:
    child = start(WITH_CHILD, tmp_path)
    grandchild = int(child.last_words())
    assert not is_gone(grandchild)
    processes.stop([child])
    assert not child.is_alive()
    assert until(lambda: is_gone(grandchild))


def test_a_child_that_does_not_listen_is_killed_after_a_while(tmp_path: Path) -> None:
    child = start(STUBBORN, tmp_path)
    processes.stop([child], within=0.3)
    assert child.process.returncode == -signal.SIGKILL


def test_a_child_that_has_ended_can_be_stopped_again(tmp_path: Path) -> None:
    child = start("print('done')", tmp_path)
    child.process.wait()
    processes.stop([child])
    assert child.process.returncode == 0


def test_what_a_child_said_is_kept_and_the_time_before_too(tmp_path: Path) -> None:
    start("print('first')", tmp_path).process.wait()
    child = start("print('a'); print(); print('b'); print('c'); print('d')", tmp_path)
    child.process.wait()
    assert child.last_words() == "b\nc\nd"
    assert (tmp_path / "one-child.before.log").read_text() == "first\n"


def test_children_end_when_their_parent_is_killed_outright(tmp_path: Path) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    child = int(parent.stdout.readline())
    assert not is_gone(child)
    os.kill(parent.pid, signal.SIGKILL)
    parent.communicate()
    assert until(lambda: is_gone(child))
