"""What is held on a person as a file for them: pages, JSON with the same words, and their pictures, in a ZIP."""

import json
import zipfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from django.core.files.storage import storages
from django.core.serializers.json import DjangoJSONEncoder

from registry.exchange import typeset
from registry.selectors.held import Held, Seen

TEMPLATE = Path(__file__).with_name("access.typ")
PAGES, DATA, FOLDER = "report.pdf", "report.json", "files"
BLOCK = 1 << 20


@dataclass(frozen=True)
class About:
    """What stands at the head of a report: of whom, made when and why."""

    key: str
    made_at: datetime
    reason: str


def write(target: IO[bytes], held: Held, about: About) -> list[str]:
    """Write the ZIP; return the files that rows name and that their storage does not have.

    Raises ValueError when something about the pages is doubtful.
    """
    missing = []
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, allowZip64=True) as packed:
        for storage, name in held.files:
            if storages[storage].exists(name):
                with (
                    storages[storage].open(name) as source,
                    packed.open(f"{FOLDER}/{storage}/{name}", "w") as into,
                ):
                    while block := source.read(BLOCK):
                        into.write(block)
            else:
                missing.append(name)
        packed.writestr(DATA, json_of(held, about, missing))
        packed.writestr(PAGES, pdf_of(held, about, missing))
    return missing


def json_of(held: Held, about: About, missing: Sequence[str] = ()) -> str:
    """Return everything as JSON: labels and words, no codes."""
    tables = [
        {
            "table": table.title,
            "rows": [{"number": row.number, **dict(row.cells)} for row in table.rows],
        }
        for table in held.tables
    ]
    told = {
        "about": {**asdict(about), "caution": CAUTION},
        "tables": tables,
        "who saw or changed it": [asdict(one) for one in held.trail],
        "copies that may have held it": [asdict(one) for one in held.taken],
        "files": [
            {"storage": storage, "name": name, "enclosed": name not in missing}
            for storage, name in held.files
        ],
        "elsewhere": list(held.elsewhere),
    }
    return json.dumps(told, ensure_ascii=False, indent=1, cls=DjangoJSONEncoder)


CAUTION = (
    "Free text may speak of other people: read it before it is handed out. People of the service are told "
    "by their roles. Local policy decides what is left out, and why."
)


def pdf_of(held: Held, about: About, missing: Sequence[str] = ()) -> bytes:
    """Return the pages. Raises ValueError when something about them is doubtful."""
    return typeset.pdf_of(_files(held, about, missing), about.made_at)


def pictures_of(held: Held, about: About, dots_per_inch: float = 60.0) -> list[bytes]:
    """Return each page as a PNG, to be looked at."""
    return typeset.pictures_of(_files(held, about, ()), about.made_at, dots_per_inch)


def _files(held: Held, about: About, missing: Sequence[str]) -> dict[str, bytes]:
    at = about.made_at.astimezone(UTC)
    content: dict[str, Any] = {
        "title": f"What is held on {about.key}",
        "head": [f"Made on {at:%d %b %Y, %H:%M} UTC. {about.reason}", CAUTION],
        "tables": [
            {"title": table.title, "cells": [_lines(row) for row in table.rows]}
            for table in held.tables
        ],
        "trails": [
            _trail("Who saw or changed it", held.trail, "Nobody."),
            _trail("Copies that may have held it", held.taken, "None."),
        ],
        "others": [
            *(
                f"{name} ({'not in its storage any more' if name in missing else 'enclosed'})"
                for _, name in held.files
            ),
            *held.elsewhere,
        ],
        "foot": f"{about.key}, {at:%d %b %Y}",
        "made": [at.year, at.month, at.day],
    }
    return {
        "main.typ": TEMPLATE.read_bytes(),
        "access.json": json.dumps(content, cls=DjangoJSONEncoder).encode(),
    }


def _lines(row: Any) -> list[list[str]]:
    first = [str(row.number), *([""] * (len(row.cells) - 1))]
    return [
        [number, label, _printable(value)]
        for number, (label, value) in zip(first, row.cells, strict=True)
    ]


def _trail(title: str, seen: Sequence[Seen], none: str) -> dict[str, Any]:
    cells = [
        [f"{one.at.astimezone(UTC):%Y-%m-%d %H:%M}", one.who, one.act, _printable(_with_what(one))]
        for one in seen
    ]
    return {"title": title, "cells": cells, "none": none}


def _with_what(one: Seen) -> str:
    changed = "; ".join(f"{label}: {was} to {now}" for label, was, now in one.changed)
    return ". ".join(part for part in (one.what, one.reason, changed) if part)


def _printable(text: str) -> str:
    """Leave out what no page can show: signs of control."""
    return "".join(sign if sign.isprintable() else " " for sign in text)
