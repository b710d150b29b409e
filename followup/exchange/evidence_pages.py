"""What was done about a safety notice, as pages to keep."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from registry.exchange import typeset

TEMPLATE = Path(__file__).with_name("evidence.typ")


@dataclass(frozen=True)
class Grid:
    """A table: what its columns are called, and its rows of text."""

    head: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class EvidencePages:
    """What stands on the pages: the notice, the sums by site, and every step about everybody."""

    title: str
    head: Sequence[str]
    about: Sequence[str]
    advice: str
    sums: Grid
    agrees: str
    steps: Grid
    foot: str


def pdf_of(evidence: EvidencePages, at: datetime) -> bytes:
    """Return the pages as a PDF; the same evidence and moment give the same bytes.

    Raises ValueError when something about the pages is doubtful.
    """
    content = {
        **asdict(evidence),
        "advice": evidence.advice.replace("\r\n", "\n").split("\n"),
        "made": [at.year, at.month, at.day],
    }
    files = {"main.typ": TEMPLATE.read_bytes(), "evidence.json": json.dumps(content).encode()}
    return typeset.pdf_of(files, at)
