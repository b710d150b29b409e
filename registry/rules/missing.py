"""Unknown, not done and not applicable: three different values, never an empty string or a zero."""

from collections.abc import Mapping
from typing import Any

UNKNOWN = "unknown"
NOT_DONE = "not_done"
NOT_APPLICABLE = "not_applicable"
KINDS = {UNKNOWN: "unknown", NOT_DONE: "not done", NOT_APPLICABLE: "not applicable"}
NOT_RECORDED = "not recorded"
SPELLINGS = {
    "unknown": UNKNOWN,
    "?": UNKNOWN,
    "not known": UNKNOWN,
    "not done": NOT_DONE,
    "not_done": NOT_DONE,
    "nd": NOT_DONE,
    "not applicable": NOT_APPLICABLE,
    "not_applicable": NOT_APPLICABLE,
    "n/a": NOT_APPLICABLE,
    "na": NOT_APPLICABLE,
}


def kind_of(text: str) -> str | None:
    """Return which kind of missing a written value means, None when it is a value."""
    return SPELLINGS.get(text.strip().casefold())


def faults(missing: Mapping[str, str], values: Mapping[str, Any]) -> dict[str, str]:
    """Return a message for each field whose kind of missing is not one, or that has a value too."""
    found: dict[str, str] = {}
    for field, kind in missing.items():
        if kind not in KINDS:
            found[field] = f"'{kind}' is not a kind of missing; use one of {', '.join(KINDS)}"
        elif values.get(field) not in (None, ""):
            found[field] = f"has a value and is marked {KINDS[kind]}; keep one of the two"
    return found


def words(value: Any, field: str, missing: Mapping[str, str]) -> str:
    """Write a value, or say in which way it is missing."""
    if value not in (None, ""):
        return str(value)
    return KINDS.get(missing.get(field, ""), NOT_RECORDED)
