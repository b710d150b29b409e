"""A pack as pages: set by typst from its sections, with the drawings in it, in fonts that it brings."""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import typst

from analytics.figures.documents import Document, plain
from analytics.figures.svg import to_svg

TEMPLATE = Path(__file__).with_name("pack.typ")
# Tagged, with words for every figure: read out as well as looked at (PDF/UA-1).
STANDARDS = ["ua-1"]


def pdf_of(made: Document, at: datetime) -> bytes:
    """Return the pages as a PDF; the same document and moment give the same bytes.

    Raises ValueError when something about the pages is doubtful, such as a font that is not there.
    """
    return bytes(_compiled(made, at, format="pdf", pdf_standards=STANDARDS))


def pictures_of(made: Document, at: datetime, dots_per_inch: float = 60.0) -> list[bytes]:
    """Return each page as a PNG, to be looked at."""
    found = _compiled(made, at, format="png", ppi=dots_per_inch)
    return found if isinstance(found, list) else [found]


def _compiled(made: Document, at: datetime, **how: Any) -> Any:
    files = {
        "main.typ": TEMPLATE.read_bytes(),
        "pack.json": json.dumps(_printed(made, at)).encode(),
        **{f"{name}.svg": to_svg(drawing).encode() for name, drawing in made.drawings.items()},
    }
    result, warnings = typst.compile_with_warnings(
        files, ignore_system_fonts=True, timestamp=int(at.timestamp()), **how
    )
    if warnings:
        raise ValueError("; ".join(warning.message for warning in warnings))
    return result


def _printed(made: Document, at: datetime) -> dict[str, Any]:
    values = plain(made)
    for section in values["sections"]:
        for figure in section["figures"]:
            figure["words"] = figure.pop("drawing")["words"]
    return {**values, "made": [at.year, at.month, at.day]}
