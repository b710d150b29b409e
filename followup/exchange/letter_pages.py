"""A note or letter as pages."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from registry.exchange import typeset

TEMPLATE = Path(__file__).with_name("letter.typ")


@dataclass(frozen=True)
class LetterPages:
    """What stands on the pages; the body is plain text whose lines that begin with '- ' are a list."""

    title: str
    site: str
    on: date
    head: Sequence[str]
    addressee: str
    body: str
    foot: str


def pdf_of(letter: LetterPages, at: datetime) -> bytes:
    """Return the pages as a PDF; the same letter and moment give the same bytes.

    Raises ValueError when something about the pages is doubtful.
    """
    return typeset.pdf_of(_files(letter, at), at)


def pictures_of(letter: LetterPages, at: datetime, dots_per_inch: float = 60.0) -> list[bytes]:
    """Return each page as a PNG, to be looked at."""
    return typeset.pictures_of(_files(letter, at), at, dots_per_inch)


def _files(letter: LetterPages, at: datetime) -> dict[str, bytes]:
    content = {
        "title": letter.title,
        "site": letter.site,
        "day": f"{letter.on.day} {letter.on:%B %Y}",
        "head": list(letter.head),
        "addressee": [line.strip() for line in letter.addressee.splitlines() if line.strip()],
        "parts": list(_parts(letter.body)),
        "foot": letter.foot,
        "made": [at.year, at.month, at.day],
    }
    return {"main.typ": TEMPLATE.read_bytes(), "letter.json": json.dumps(content).encode()}


def _parts(body: str) -> Iterable[dict[str, Any]]:
    """Yield the paragraphs: a title where list lines follow it, the list, or plain lines."""
    for paragraph in body.replace("\r\n", "\n").split("\n\n"):
        lines = [line.rstrip() for line in paragraph.split("\n") if line.strip()]
        listed = [line[2:] for line in lines if line.startswith("- ")]
        plain = [line for line in lines if not line.startswith("- ")]
        is_title = bool(listed) and len(plain) == 1 and plain[0].endswith(":")
        if lines:
            yield {
                "title": plain[0] if is_title else "",
                "lines": listed,
                "text": [] if is_title else plain,
            }
