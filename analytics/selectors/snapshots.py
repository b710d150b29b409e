"""The snapshots that are kept, and what each was made from."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.paginator import Page, Paginator

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.models.snapshots import Snapshot
from analytics.rules.ages import age_words

PER_PAGE = 50
COUNTED = {
    "cases": "index procedures",
    "readings": "readings",
    "findings": "findings on films",
    "complications": "complications",
    "reoperations": "later operations",
    "reviews": "reviews",
    "motion": "movements",
    "scores": "scores",
    "asked": "invitations",
    "questions": "steps of hardware questions",
}


@dataclass(frozen=True)
class Line:
    """One snapshot in words; `changed` names the definitions whose version is another one now."""

    snapshot: Snapshot
    age: str
    short: str
    counts: tuple[tuple[str, int], ...]
    changed: tuple[str, ...]


def kept(number: str | None, now: datetime) -> "tuple[Page[Any], list[Line]]":
    """Return one page of the kept snapshots, the newest first, and a line for each."""
    rows = Snapshot.objects.defer("frames")
    page = Paginator(rows, PER_PAGE).get_page(number)
    return page, [_line(row, now) for row in page]


def _line(row: Snapshot, now: datetime) -> Line:
    counts = [
        (words, row.row_counts[name]) for name, words in COUNTED.items() if name in row.row_counts
    ]
    changed = [
        f"{one.id}: version {row.definitions[one.id]} then, {one.version} now"
        for one in DEFINITIONS.values()
        if row.definitions.get(one.id, one.version) != one.version
    ]
    return Line(
        snapshot=row,
        age=age_words(now - row.taken_at),
        short=row.content_hash[:12],
        counts=tuple(counts),
        changed=tuple(changed),
    )
