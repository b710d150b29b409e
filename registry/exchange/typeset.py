"""Pages set by typst from a template and its files, in fonts that it brings; the same in, the same out."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import typst

# Tagged, with words for every figure: read out as well as looked at (PDF/UA-1).
STANDARDS = ["ua-1"]


def pdf_of(files: Mapping[str, bytes], at: datetime) -> bytes:
    """Return the pages of 'main.typ' among these files as a PDF.

    Raises ValueError when something about the pages is doubtful, such as a font that is not there or
    a sign that no font has.
    """
    return bytes(compiled(files, at, format="pdf", pdf_standards=STANDARDS))


def pictures_of(files: Mapping[str, bytes], at: datetime, dots_per_inch: float) -> list[bytes]:
    """Return each page as a PNG, to be looked at. Raises ValueError as `pdf_of` does."""
    found = compiled(files, at, format="png", ppi=dots_per_inch)
    return found if isinstance(found, list) else [found]


def compiled(files: Mapping[str, bytes], at: datetime, **how: Any) -> Any:
    """Set the pages in one of typst's formats. Raises ValueError as `pdf_of` does."""
    try:
        result, warnings = typst.compile_with_warnings(
            dict(files), ignore_system_fonts=True, timestamp=int(at.timestamp()), **how
        )
    except typst.TypstError as fault:
        raise ValueError(str(fault)) from fault
    if warnings:
        raise ValueError("; ".join(warning.message for warning in warnings))
    return result
