"""Reads along in every log line that the tests cause: none may name somebody invented."""

import logging
import re

from analytics.simulation import setting
from config import logs

# The loggers of our own rooms, and of what logs requests and tasks, are read at this level as well.
CLOSER = ("analytics", "config", "followup", "registry", "celery", "django_structlog")
_families = f"(?:{'|'.join(setting.FAMILY_FIRST)})(?:{'|'.join(setting.FAMILY_LAST)})"
NAMES = re.compile(
    rf"\b{_families}\b|Quillfeather|Zuidervaart|Testfamily\d|Saltgate|Heron Steps"
    r"|0555 010 \d|\d{4}@|@(?:patients|mail)\.invalid"
)


class Watch(logging.Handler):
    """Keeps the lines that name somebody, as the service would write them."""

    def __init__(self) -> None:
        super().__init__()
        self.setFormatter(logs.objects())
        self.named: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Look at one line."""
        line = self.format(record)
        if NAMES.search(line):
            self.named.append(line)

    def taken(self) -> list[str]:
        """Return the lines since the last time that was asked."""
        named, self.named = self.named, []
        return named
