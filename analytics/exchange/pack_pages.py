"""A pack as pages: set by typst from its sections, with the drawings in it, in fonts that it brings."""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from analytics.figures.documents import Document, plain
from analytics.figures.svg import to_svg
from registry.exchange import typeset

TEMPLATE = Path(__file__).with_name("pack.typ")


def pdf_of(made: Document, at: datetime) -> bytes:
    """Return the pages as a PDF; the same document and moment give the same bytes.

    Raises ValueError when something about the pages is doubtful, such as a font that is not there.
    """
    return typeset.pdf_of(_files(made, at), at)


def pictures_of(made: Document, at: datetime, dots_per_inch: float = 60.0) -> list[bytes]:
    """Return each page as a PNG, to be looked at."""
    return typeset.pictures_of(_files(made, at), at, dots_per_inch)


def _files(made: Document, at: datetime) -> dict[str, bytes]:
    return {
        "main.typ": TEMPLATE.read_bytes(),
        "pack.json": json.dumps(_printed(made, at)).encode(),
        **{f"{name}.svg": to_svg(drawing).encode() for name, drawing in made.drawings.items()},
    }


def _printed(made: Document, at: datetime) -> dict[str, Any]:
    values = plain(made)
    for section in values["sections"]:
        for figure in section["figures"]:
            figure["words"] = figure.pop("drawing")["words"]
    return {**values, "made": [at.year, at.month, at.day]}
