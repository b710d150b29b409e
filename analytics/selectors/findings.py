"""What the figure at an address says, so that a meeting can hold now against then."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from analytics.answers.outcomes import Answer, percent
from analytics.figures.function import over_time_words
from analytics.figures.tipping import tipping_words
from analytics.models.meetings import MeetingDecision
from analytics.models.snapshots import Snapshot
from analytics.selectors import outcomes
from analytics.selectors.cohorts import rule_from
from analytics.selectors.following import Following
from analytics.selectors.frames import Frames
from analytics.selectors.function import function_answer, measure_of
from analytics.selectors.kept import kept
from analytics.selectors.outcomes import Given
from registry.errors import BadInput
from registry.models.sites import Site

MOST_WORDS = 2000
Query = Mapping[str, str]


@dataclass(frozen=True)
class Finding:
    """What a figure said: in words, by a definition, from a snapshot with its last day.

    `address` opens that figure again, '' where its snapshot is not kept.
    """

    words: str
    definition: str
    snapshot: str
    cutoff: date
    address: str


@dataclass(frozen=True)
class Figures:
    """One snapshot to read figures from; its frames are asked for when a figure is."""

    snapshot: Snapshot
    frames: Callable[[], Frames]


def _rate(result: Answer) -> str:
    row = result.total
    rate = row.rate
    if rate is None:
        return f"By {result.horizon.name} nobody could be judged, of {row.eligible} eligible."
    return (
        f"By {result.horizon.name}, {row.events} of {row.evaluable} judged {result.definition.happened}: "
        f"{percent(rate.estimate)} ({percent(rate.low)} to {percent(rate.high)}); {row.eligible} were "
        f"eligible, {row.operated} operated."
    )


def _compared(view: Given, query: Query) -> str:
    try:
        return outcomes.compare_answer(view, query.get("against", "")).sentence
    except ValueError:
        return outcomes.compare_answer(view).sentence


def _moved(view: Given, query: Query) -> str:
    return over_time_words(function_answer(view, measure_of(query.get("measure", ""))))


# By the path of a page: what its address always means, and how its finding is told.
PAGES: dict[str, tuple[Query, Callable[[Given, Query], str]]] = {
    "outcomes": ({}, lambda view, _: _rate(outcomes.outcome_answer(view))),
    "outcomes/compare": ({}, _compared),
    "outcomes/following": ({}, lambda view, _: tipping_words(Following(view).tipping(None))),
    "outcomes/function": ({}, _moved),
    "harms": (
        {"endpoint": "any_complication", "definition": ""},
        lambda view, _: _rate(outcomes.harm_answer(view).any_kind),
    ),
}


def finding(
    address: str, sites: Sequence[Site], figures: Figures, definition: str = ""
) -> Finding | None:
    """Return what the figure at an address says of some sites, by the definition named if one is.

    None where the page has no one finding to keep, where its address cannot be read, where it is of
    one surgeon, or where no definition stands.
    """
    parts = urlsplit(address)
    page = PAGES.get(parts.path.strip("/"))
    if page is None:
        return None
    query = {**dict(parse_qsl(parts.query)), **page[0]}
    if definition:
        query["definition"] = definition
    try:
        rule = replace(rule_from(query), snapshot="")
    except BadInput:
        return None
    if rule.surgeon_id is not None or (rule.site and rule.site not in {one.code for one in sites}):
        return None
    view = outcomes.given(rule, sites, figures.snapshot, figures.frames())
    if view.unchosen is not None:
        return None
    try:
        words = kept(view, "finding", lambda: page[1](view, query), parts.path, parts.query)
    except BadInput:
        return None
    again = {**query, "definition": view.definition.id}
    again["snapshot"] = figures.snapshot.content_hash[:12]
    return Finding(
        words=words[:MOST_WORDS],
        definition=view.definition.id,
        snapshot=figures.snapshot.content_hash,
        cutoff=figures.snapshot.cutoff,
        address=f"{parts.path}?{urlencode({name: value for name, value in again.items() if value})}",
    )


def since(
    decisions: Iterable[MeetingDecision], figures: Callable[[], Figures]
) -> list[tuple[MeetingDecision, Finding | None, Finding | None]]:
    """Return decisions, each with what its figure said when it was taken, and what it says now.

    Both by the definition of then, so that like is held against like. The snapshot is asked for only
    where a decision kept a figure.
    """
    rows = list(decisions)
    hashes = {row.figure_snapshot for row in rows if row.figure_said}
    now = figures() if hashes else None
    still = _still_kept(hashes)
    told = []
    for row in rows:
        then = _then(row, still)
        here = list(row.meeting.sites.all())
        today = finding(row.figure, here, now, row.figure_definition) if then and now else None
        told.append((row, then, today))
    return told


def _still_kept(hashes: set[str]) -> set[str]:
    if not hashes:
        return set()
    rows = Snapshot.objects.filter(content_hash__in=hashes)
    return set(rows.values_list("content_hash", flat=True))


def _then(row: MeetingDecision, still: set[str]) -> Finding | None:
    if not row.figure_said or row.figure_cutoff is None:
        return None
    parts = urlsplit(row.figure)
    query: dict[str, Any] = {**dict(parse_qsl(parts.query)), "definition": row.figure_definition}
    query["snapshot"] = row.figure_snapshot[:12]
    return Finding(
        words=row.figure_said,
        definition=row.figure_definition,
        snapshot=row.figure_snapshot,
        cutoff=row.figure_cutoff,
        address=f"{parts.path}?{urlencode(query)}" if row.figure_snapshot in still else "",
    )
