"""Invented numbers for the demo's articles and labels: no maker has the prefix 0950600, nor A999.

GS1 keeps the prefix for examples; the labeller code is that of HIBC's own examples.
"""

import re
from datetime import date
from functools import cache
from typing import Any
from zlib import crc32

from registry.rules.hibc_labels import check_character
from registry.rules.labels import check_digit

GS1_PREFIX, HIBC_LABELLER = "0950600", "A999"
BY_HIBC = frozenset({"suture", "graft"})
# Loose screws lie in a tray, without a label of their own.
UNLABELLED = frozenset({"screw"})


@cache
def article_of(kind: str, description: str, number: str) -> dict[str, Any]:
    """Return what the list of articles says besides the words: identifier, holes, diameter."""
    holes = re.search(r"(\d+) holes", description)
    diameter = re.search(r"(\d\.\d) mm", description)
    return {
        "device_identifier": _identifier(kind, description, number),
        "plate_holes": int(holes[1]) if holes and kind == "plate" else None,
        "screw_diameter_mm": diameter[1] if diameter and kind == "screw" else None,
    }


def label_of(kind: str, identifier: str, batch: str, serial: str, expires_on: date | None) -> str:
    """Return the text of a part's label as a scanner sends it, empty where it has none."""
    if not identifier or not (batch or serial):
        return ""
    if kind in BY_HIBC:
        day = f"3{expires_on:%y%m%d}" if expires_on else "7"
        body = f"+{identifier}/$${day}{batch}" + (f"/S{serial}" if serial else "")
        return body + check_character(body)
    day = f"17{expires_on:%y%m%d}" if expires_on else ""
    production = [f"10{batch}" if batch else "", f"21{serial}" if serial else ""]
    return f"]d201{identifier}{day}" + "\x1d".join(filter(None, production))


def _identifier(kind: str, description: str, number: str) -> str:
    if kind in UNLABELLED:
        return ""
    if kind in BY_HIBC:
        return f"{HIBC_LABELLER}{number.replace('-', '')}0"
    body = f"{GS1_PREFIX}{crc32(f'{number} {description}'.encode()) % 10**6:06d}"
    return f"{body}{check_digit(body)}"
