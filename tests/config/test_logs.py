"""What a log may hold."""

import logging
import logging.config
import sys

import pytest
from django.conf import settings

from config.logs import Careful


def written(said: str, *values: object, fault: BaseException | None = None) -> str:
    info = (type(fault), fault, fault.__traceback__) if fault else None
    record = logging.LogRecord("x", logging.ERROR, "x.py", 1, said, values, info)
    return Careful("%(message)s").format(record)


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("Not Found: /q/AbC_12-x/", "Not Found: /q/(a secret)/"),
        ('"GET /calendars/Zz9.ics HTTP/1.1" 429', '"GET /calendars/(a secret) HTTP/1.1" 429'),
        ("Not Found: /due/", "Not Found: /due/"),
    ],
)
def test_secret_addresses_are_taken_out(said: str, kept: str) -> None:
    assert written("%s", said) == kept


def test_a_traceback_quotes_no_row_of_the_database() -> None:
    told = "\n".join(["duplicate key", "DETAIL:  Key (phone)=(0555 010 2000) exists.", "/q/AbC/"])
    try:
        raise ValueError(told)
    except ValueError as fault:
        said = written("failed", fault=fault)
    assert "Traceback" in said
    assert "0555" not in said
    assert "AbC" not in said


def test_the_service_writes_its_log_so(capsys: pytest.CaptureFixture[str]) -> None:
    (name,) = settings.LOGGING["root"]["handlers"]
    handler = logging.StreamHandler(sys.stderr)
    wanted = settings.LOGGING["formatters"][settings.LOGGING["handlers"][name]["formatter"]]
    assert wanted["()"] == f"{Careful.__module__}.{Careful.__qualname__}"
    handler.setFormatter(Careful(wanted["format"], style=wanted["style"]))
    handler.handle(logging.LogRecord("x", logging.ERROR, "x.py", 1, "/q/AbC", (), None))
    assert "/q/(a secret)" in capsys.readouterr().err
