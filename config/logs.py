"""What must not stand in a log: the secret part of addresses, and the rows that a database quotes."""

import logging
import re

SECRET = re.compile(r"/(q|calendars)/[^/\s\"']+")
# PostgreSQL names the values of a refused row on lines of their own.
QUOTED = re.compile(r"^(DETAIL|CONTEXT|HINT): .*$", re.MULTILINE)


class Careful(logging.Formatter):
    """Writes a line, its traceback included, without secrets and without quoted rows."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the finished text, cleared of what must not be kept."""
        said = super().format(record)
        return QUOTED.sub(r"\1: (left out)", SECRET.sub(r"/\1/(a secret)", said))
