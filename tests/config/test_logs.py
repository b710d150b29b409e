"""What a log may hold."""

import json
import logging
import logging.config
import os
import subprocess
import sys
from pathlib import Path

import pytest
import structlog
from django.conf import settings

from config import logs

# What a worker does with its log when it starts, and a line that it then writes.
WORKER = """
import django; django.setup()
from config.celery import app
app.log.setup(loglevel="INFO", redirect_stdouts=False)
import logging; logging.getLogger("celery.worker").warning("failed for /q/AbC/")
"""


def written(
    said: str, *values: object, fault: BaseException | None = None, how: str = "lines"
) -> str:
    info = (type(fault), fault, fault.__traceback__) if fault else None
    record = logging.LogRecord("x", logging.ERROR, "x.py", 1, said, values, info)
    return str(getattr(logs, how)().format(record))


@pytest.mark.parametrize("how", ["lines", "objects"])
@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("Not Found: /q/AbC_12-x/", "Not Found: /q/(a secret)/"),
        ("GET /calendars/Zz9.ics HTTP/1.1 429", "GET /calendars/(a secret) HTTP/1.1 429"),
        ("Not Found: /due/", "Not Found: /due/"),
    ],
)
def test_secret_addresses_are_taken_out(said: str, kept: str, how: str) -> None:
    text = written("%s", said, how=how)
    assert kept in text
    assert "AbC" not in text
    assert "Zz9" not in text


@pytest.mark.parametrize("how", ["lines", "objects"])
def test_a_traceback_quotes_no_row_of_the_database(how: str) -> None:
    told = "\n".join(["duplicate key", "DETAIL:  Key (phone)=(0555 010 2000) exists.", "/q/AbC/"])
    try:
        raise ValueError(told)
    except ValueError as fault:
        said = written("failed", fault=fault, how=how)
    assert "Traceback" in said
    assert "0555" not in said
    assert "AbC" not in said


@pytest.mark.parametrize("how", ["lines", "objects"])
def test_a_row_that_is_quoted_inside_a_literal_is_left_out_too(how: str) -> None:
    fault = ValueError("duplicate key\nDETAIL:  Key (phone)=(0555 010 2000) exists.\nLINE 1")
    said = written("raised: %r", fault, how=how)
    assert "2000" not in said
    assert "LINE 1" in said


def test_worker_and_schedule_write_their_log_so_too() -> None:
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            WORKER,
        ],
        cwd=Path(__file__).resolve().parents[2],
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "failed for /q/(a secret)/" in done.stderr
    assert "AbC" not in done.stderr + done.stdout


def test_an_event_is_one_object_with_the_number_of_its_request() -> None:
    with structlog.contextvars.bound_contextvars(request_id="0f3a", user_id=7):
        said = json.loads(written("two %s", "words", how="objects"))
    assert said.pop("timestamp").endswith("Z")
    told = {
        "event": "two words",
        "level": "error",
        "logger": "x",
        "request_id": "0f3a",
        "user_id": 7,
    }
    assert said == told


def test_a_line_ends_with_the_number_of_its_request() -> None:
    with structlog.contextvars.bound_contextvars(request_id="0f3a"):
        assert written("said").endswith("error x said request_id=0f3a")


@pytest.mark.parametrize("name", ["lines", "objects"])
def test_the_service_writes_its_log_so(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    wanted = settings.LOGGING["formatters"][name]
    assert wanted == {"()": f"config.logs.{name}"}
    assert settings.LOGGING["handlers"]["console"]["formatter"] in ("lines", "objects")
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(getattr(logs, name)())
    handler.handle(logging.LogRecord("x", logging.ERROR, "x.py", 1, "/q/AbC", (), None))
    assert "/q/(a secret)" in capsys.readouterr().err
