"""Labels of human tissue (ICCBBA): a graft's product code with what follows it.

References: ISBT 128 for medical devices of human origin; the lengths of its data structures beyond
those of the tested example are from memory.
"""

import re
from dataclasses import replace
from datetime import date

from registry.rules.label_dates import day_of_year
from registry.rules.labels import Issuer, Label, LabelRefused

# Data identifier -> what it is called here, and the pattern of its data. A donation's number begins
# with a character that is part of it.
STRUCTURES: tuple[tuple[str, str, str], ...] = (
    ("=/", "product", r"[A-NP-Z0-9]{5}[A-Z0-9]{6}[A-Z0-9]{5}"),
    ("=,", "serial", r"[A-Z0-9]{6}"),
    ("=>", "expires_on", r"\d{6}"),
    ("=}", "made_on", r"\d{6}"),
    ("&,1", "batch", r"[A-Za-z0-9]{1,18}"),
    ("=+", "message", r"\d{5}"),
    ("=<", "product_code", r"[A-Z0-9]{8}"),
    ("&>", "expires_at", r"\d{10}"),
    ("&}", "made_at", r"\d{10}"),
    ("=", "donation", r"[A-NP-Z1-9][A-Z0-9]{4}\d{8}[A-Z0-9]{2}"),
)
KEPT = ("donation", "product_code", "expires_at", "made_at")


def read(text: str) -> Label:
    """Read the label of a graft, which begins with '='; the batch keeps its leading zeros.

    Raises LabelRefused for a text that is none, or whose data have another form.
    """
    # In HL7 version 2 an ampersand travels as an escape.
    rest = plain = text.replace("\\T\\", "&")
    said: dict[str, str] = {}
    while rest:
        name, value, length = _structure(rest)
        if said.setdefault(name, value) != value:
            raise LabelRefused(
                f"The label says two things for one: '{said[name]}' and '{value}'. "
                "Two labels may have run together; scan one at a time."
            )
        rest = rest[length:]
    if set(said) <= {"message"}:
        raise LabelRefused(f"'{text}' says nothing of a graft. Scan the label again.")
    label = Label(
        raw=text,
        issuer=Issuer.ICCBBA,
        device_identifier=said.get("product", ""),
        serial=said.get("serial", ""),
        batch=said.get("batch", ""),
        # Of a moment the day counts; its hour is kept beside.
        expires_on=_day(said.get("expires_on") or said.get("expires_at", "")[:6]),
        made_on=_day(said.get("made_on") or said.get("made_at", "")[:6]),
        others=tuple((name, said[name]) for name in KEPT if name in said),
    )
    escaped = ("An ampersand that was escaped was read as one.",) if plain != text else ()
    return replace(label, notes=escaped)


def _structure(rest: str) -> tuple[str, str, int]:
    """Return what stands first: its name, its data and how many characters it takes."""
    for identifier, name, pattern in STRUCTURES:
        if not rest.startswith(identifier):
            continue
        match = re.compile(pattern).match(rest, len(identifier))
        if match is not None:
            return name, match.group(), match.end()
        if identifier != "=":
            raise LabelRefused(
                f"'{rest[:24]}' has another form than '{identifier}' demands: the label was "
                "misread or is damaged. Scan it again."
            )
    raise LabelRefused(
        f"'{rest[:24]}' is nothing that a label of human tissue says here. Scan it again, or type "
        "the part by hand."
    )


def _day(digits: str) -> date | None:
    """Return the day of a century digit, a year and the day of the year; 0 is the century of 2000."""
    if not digits:
        return None
    century = 2000 if digits[0] == "0" else 1000 + 100 * int(digits[0])
    return day_of_year(century + int(digits[1:3]), int(digits[3:]), digits)
