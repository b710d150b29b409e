"""How the log is written: a line or a JSON object for each event, with the number of its request.

What must not stand there is taken out: the secret part of addresses, and the rows that a database quotes.
"""

import logging
import re
from collections.abc import Sequence
from typing import Any

import structlog
from structlog.typing import EventDict, Processor

SECRET = re.compile(r"/(q|calendars)/[^/\s\"']+")
# PostgreSQL names the values of a refused row on lines of their own.
# Of what is printed as a literal they stand in one line, behind a written line end.
QUOTED = re.compile(r"(^|\\n)(DETAIL|CONTEXT|HINT): .*?(?=\\n|$)", re.MULTILINE)
SHARED: list[Processor] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
]


def cleared(said: str) -> str:
    """Return a text without secret addresses and without quoted rows."""
    return QUOTED.sub(r"\1\2: (left out)", SECRET.sub(r"/\1/(a secret)", said))


def careful(logger: Any, method: str, event: EventDict) -> EventDict:
    """Clear every text of an event, its traceback included."""
    return {
        name: cleared(value) if isinstance(value, str) else value for name, value in event.items()
    }


def as_line(logger: Any, method: str, event: EventDict) -> str:
    """Return one event as a line for a person: when, how grave, who says what, and for which request."""
    first = [str(event.pop(name, "")) for name in ("timestamp", "level", "logger", "event")]
    trace = event.pop("exception", "")
    rest = " ".join(f"{name}={value}" for name, value in sorted(event.items()))
    return " ".join(filter(None, (*first, rest))) + (f"\n{trace}" if trace else "")


def lines() -> logging.Formatter:
    """Return what writes the log for a person who reads along."""
    return _formatter([as_line])


def objects() -> logging.Formatter:
    """Return what writes one JSON object for each event, for a collector of logs."""
    return _formatter([structlog.processors.JSONRenderer(sort_keys=True, default=str)])


def _formatter(last: Sequence[Processor]) -> logging.Formatter:
    return structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=SHARED,
        processors=[
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            structlog.processors.format_exc_info,
            careful,
            *last,
        ],
    )


structlog.configure(
    processors=[
        structlog.stdlib.filter_by_level,
        *SHARED,
        structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
    ],
    logger_factory=structlog.stdlib.LoggerFactory(),
    cache_logger_on_first_use=True,
)
