"""The web server as it runs in production: it ends what it began, and its processes count together."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

ROOT = Path(__file__).resolve().parents[2]
TOKEN = "a-long-random-text-that-only-the-monitor-knows"


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    port = free_port()
    given = {
        **os.environ,
        "HOLDFAST_DATA_DIR": str(tmp_path),
        "HOLDFAST_DATABASE": "",
        "HOLDFAST_REDIS": "",
        "HOLDFAST_BROKER": "",
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HOLDFAST_METRICS_TOKEN": TOKEN,
        "HOLDFAST_BIND": f"127.0.0.1:{port}",
        "HOLDFAST_WEB_PROCESSES": "2",
    }
    given.pop("PROMETHEUS_MULTIPROC_DIR", None)
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=given, check=True)
    words = [sys.executable, "-m", "gunicorn", "-c", "python:config.serving", "config.wsgi"]
    with subprocess.Popen(words, cwd=ROOT, env=given) as process:
        address = f"http://127.0.0.1:{port}"
        try:
            wait_for(address)
            yield process, address
        finally:
            process.send_signal(signal.SIGKILL)


def wait_for(address: str) -> None:
    until = time.monotonic() + 120
    while time.monotonic() < until:
        try:
            httpx.get(f"{address}/health/alive/", timeout=5)
        except httpx.TransportError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError("the server did not come up")


def test_processes_count_together_and_a_request_that_runs_is_answered_at_the_end(
    served: tuple[subprocess.Popen[bytes], str],
) -> None:
    process, address = served
    for _ in range(20):
        assert httpx.get(f"{address}/health/alive/", timeout=20).status_code == 200
    shown = {"Authorization": f"Bearer {TOKEN}"}
    answer = httpx.get(f"{address}/metrics/", headers=shown, timeout=60)
    assert answer.status_code == 200, answer.text[:2000]
    text = answer.text
    counted = "django_http_requests_total_by_view_transport_method_total"
    (line,) = [
        line for line in text.splitlines() if line.startswith(counted) and 'view="alive"' in line
    ]
    assert float(line.split()[-1]) >= 20
    assert "holdfast_messages" in text
    # A slow sender is in the middle of its request when the service is told to stop.
    host, port = address.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=60) as line:
        line.sendall(b"GET /health/alive/ HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        time.sleep(1)
        process.send_signal(signal.SIGTERM)
        time.sleep(1)
        line.sendall(b"Connection: close\r\n\r\n")
        assert line.recv(4096).startswith(b"HTTP/1.1 200")
    assert process.wait(60) == 0


def test_a_service_in_production_does_not_start_with_unsafe_settings(tmp_path: Path) -> None:
    given = {
        **os.environ,
        "HOLDFAST_DATA_DIR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HOLDFAST_PRODUCTION": "yes",
        "HOLDFAST_SECRET_KEY": "short",
        "HOLDFAST_DATABASE": "",
        "HOLDFAST_REDIS": "",
        "HOLDFAST_BROKER": "",
    }
    for asked in (
        "import config.wsgi",
        "from config.celery import refuse_unsafe_settings as r; r()",
    ):
        begun = f"import django; django.setup(); {asked}"
        done = subprocess.run(
            [sys.executable, "-c", begun],
            cwd=ROOT,
            env=given,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 1
        assert "Holdfast does not start with these settings:" in done.stderr
        assert "The secret key has fewer than 50 characters" in done.stderr
        assert "The database is SQLite" in done.stderr
        assert "Traceback" not in done.stderr
