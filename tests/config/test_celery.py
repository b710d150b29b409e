"""A worker of its own over the embedded broker: what it does when it is told to stop, and what its log says."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from config import broker, processes
from tests.config.test_processes import until

ROOT = Path(__file__).resolve().parents[2]
NUMBER = "0f3a51c2-9d4e-4b7a-8f10-2c6de0a1b3f7"
ASK = f"""
import sys
import django
django.setup()
import structlog
from tests.slow_tasks import slow
with structlog.contextvars.bound_contextvars(request_id="{NUMBER}"):
    slow.delay(sys.argv[1], 4)
"""


@pytest.fixture
def environment(tmp_path: Path) -> Iterator[dict[str, str]]:
    """Start the embedded broker; yield what a process needs to use it."""
    server = broker.binary()
    assert server is not None
    with broker.private_socket_folder() as sockets:
        started = broker.start(server, socket_folder=sockets, data=tmp_path, logs=tmp_path)
        try:
            yield {
                **os.environ,
                **started.settings,
                "DJANGO_SETTINGS_MODULE": "config.settings",
                "HOLDFAST_DATA_DIR": str(tmp_path),
                "HOLDFAST_DATABASE": f"sqlite:///{tmp_path}/holdfast.sqlite3",
                "HOLDFAST_LOG_JSON": "yes",
            }
        finally:
            processes.stop([started.child])


def test_a_worker_that_is_told_to_stop_ends_its_task_under_the_number_of_who_asked(
    environment: dict[str, str], tmp_path: Path
) -> None:
    words = ["-m", "celery", "-A", "config.celery", "worker", "--concurrency=1", "-I"]
    with (tmp_path / "said").open("w") as said:
        worker = subprocess.Popen(
            [sys.executable, *words, "tests.slow_tasks", "--loglevel=WARNING"],
            cwd=ROOT,
            env=environment,
            stdout=said,
            stderr=said,
        )
        try:
            asked = [sys.executable, "-c", ASK, str(tmp_path)]
            subprocess.run(asked, cwd=ROOT, env=environment, check=True)
            assert until((tmp_path / "began").exists, 120), (tmp_path / "said").read_text()
            worker.send_signal(signal.SIGTERM)
            assert worker.wait(60) == 0
        finally:
            worker.kill()
    assert (tmp_path / "ended").exists()
    lines = [
        json.loads(one) for one in (tmp_path / "said").read_text().splitlines() if one[:1] == "{"
    ]
    (line,) = [one for one in lines if one["event"] == "the slow task ends"]
    assert line["request_id"] == NUMBER
