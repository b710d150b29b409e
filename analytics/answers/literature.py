"""What do others report? Published counts beside the local rate of the same construct and endpoint.

They are no targets: each row says how its definition, time and patients differ from ours, and what
is from memory is drawn but not pooled.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pandas as pd

from analytics.answers import horizons
from analytics.answers.horizons import Horizon
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.estimators.pooling import PooledShare, logit_normal
from analytics.estimators.proportions import wilson
from analytics.estimators.results import Estimate

INJURIES = {"lateral_clavicle": "fractures", "ac_joint": "AC joints"}
STATUS = {
    "found": "",
    "inferred": "The number of events is inferred from a printed percentage.",
    "memory": "From memory: not checked against the paper, and not pooled.",
}
NO_TARGET = (
    "Published counts are what others saw in other patients, by other definitions, for other lengths "
    "of time. They are no targets, and being below or above one is no finding."
)
POOLED_FROM = 2


@dataclass(frozen=True)
class PublishedCount:
    """One printed count: `like` are our definitions whose rule it shares.

    `construct` is our code, '' where constructs are not told apart.
    """

    source: str
    citation: str
    construct: str
    injury: str
    endpoint: str
    events: int
    total: int
    status: str
    definition: str
    differs: str
    like: tuple[str, ...]


@dataclass(frozen=True)
class Contradiction:
    """What the sources say against one another, or against themselves, about some endpoints."""

    endpoints: tuple[str, ...]
    words: str
    citations: tuple[str, ...]


@dataclass(frozen=True)
class Literature:
    """All that is carried: counts, contradictions, and what was left out and why."""

    counts: tuple[PublishedCount, ...]
    contradictions: tuple[Contradiction, ...]
    left_out: tuple[str, ...]

    def endpoints(self) -> tuple[str, ...]:
        """Return the endpoints of which there is a count, in the order of the file."""
        return tuple(dict.fromkeys(count.endpoint for count in self.counts))


@dataclass(frozen=True)
class LocalRate:
    """Ours: events of evaluable by the horizon, with Wilson's interval."""

    events: int
    evaluable: int
    rate: Estimate


@dataclass(frozen=True)
class PublishedRow:
    """A count with Wilson's interval and, in sentences, how it differs from ours.

    `time` is the one of the sentences that all of them share.
    """

    count: PublishedCount
    rate: Estimate
    differences: tuple[str, ...]
    time: str


@dataclass(frozen=True)
class Comparison:
    """The published counts of one construct, pooled where there are enough, beside ours."""

    construct: str
    local: LocalRate | None
    rows: tuple[PublishedRow, ...]
    pooled: PooledShare | None
    pooled_events: int
    pooled_total: int
    sentence: str


@dataclass(frozen=True)
class LiteratureAnswer:
    """One endpoint: a comparison for each construct, and what the sources contradict."""

    definition: EndpointDefinition
    horizon: Horizon
    comparisons: tuple[Comparison, ...]
    contradictions: tuple[Contradiction, ...]
    sentence: str


def read(raw: Mapping[str, Any]) -> Literature:
    """Read the published counts as they stand in the file.

    Raises ValueError naming the row for a count that cannot be, an unknown source or a status that
    there is not.
    """
    sources = raw["sources"]
    counts = tuple(_count(place, row, sources) for place, row in enumerate(raw["rows"], 1))
    contradictions = tuple(
        Contradiction(
            tuple(row["endpoints"]), row["words"], tuple(sources[name] for name in row["sources"])
        )
        for row in raw["contradictions"]
    )
    return Literature(counts, contradictions, tuple(raw["left_out"]))


def answer(
    literature: Literature,
    data: Data,
    definition: EndpointDefinition,
    horizon: Horizon,
    *,
    injury: str = "",
) -> LiteratureAnswer:
    """Put the published counts of a definition's endpoint beside the rates of a cohort.

    `injury` leaves only counts of that injury. A construct that others report and nobody here has
    had is shown without a local rate.
    """
    local = local_rates(data, definition, horizon)
    chosen = [
        count
        for count in literature.counts
        if count.endpoint == definition.endpoint and injury in ("", count.injury)
    ]
    here = sorted(set(data.cases["injury_kind"].dropna()))
    codes = sorted({count.construct for count in chosen}, key=lambda code: (not code, code))
    comparisons = tuple(
        _comparison(
            code,
            local.get(code),
            tuple(
                _row(count, definition, horizon, here)
                for count in chosen
                if count.construct == code
            ),
        )
        for code in codes
    )
    return LiteratureAnswer(
        definition=definition,
        horizon=horizon,
        comparisons=comparisons,
        contradictions=tuple(
            one for one in literature.contradictions if definition.endpoint in one.endpoints
        ),
        sentence=_sentence(chosen, comparisons, definition),
    )


def local_rates(
    data: Data, definition: EndpointDefinition, horizon: Horizon
) -> dict[str, LocalRate]:
    """Return the local rate of each construct type, and of all under ''; none where none is judged."""
    applied = apply(definition, data)
    states = horizons.states_at(applied, data.cases, horizon, pd.Timestamp(data.cutoff))["state"]
    construct = data.cases["construct_type"].astype("object")
    groups = {str(code): states[construct == code] for code in construct.dropna().unique()}
    rates = {}
    for code, mine in {**groups, "": states}.items():
        events = int((mine == "event").sum())
        evaluable = events + int(mine.isin(["held", "competing"]).sum())
        if evaluable:
            rates[code] = LocalRate(events, evaluable, wilson(events, evaluable))
    return rates


def _count(place: int, row: Mapping[str, Any], sources: Mapping[str, str]) -> PublishedCount:
    events, total = int(row["events"]), int(row["total"])
    if not 0 <= events <= total or total < 1:
        raise ValueError(f"published count {place}: {events} of {total} cannot be")
    if row["status"] not in STATUS:
        raise ValueError(f"published count {place}: '{row['status']}' is no status")
    if row["source"] not in sources:
        raise ValueError(f"published count {place}: '{row['source']}' is no source of the list")
    return PublishedCount(
        source=row["source"],
        citation=sources[row["source"]],
        construct=row["construct"],
        injury=row["injury"],
        endpoint=row["endpoint"],
        events=events,
        total=total,
        status=row["status"],
        definition=row["definition"],
        differs=row["differs"],
        like=tuple(row["like"]),
    )


def _row(
    count: PublishedCount,
    definition: EndpointDefinition,
    horizon: Horizon,
    injuries_here: Sequence[str],
) -> PublishedRow:
    same = definition.id in count.like
    rule = (
        f"The same rule as ours: {count.definition}."
        if same
        else f"Another rule. Theirs: {count.definition}; ours: {definition.name}."
    )
    time = f"Theirs at the last look, whenever it was; ours by {horizon.name}."
    words = [rule, time]
    if count.differs:
        words.append(f"{count.differs[:1].upper()}{count.differs[1:]}.")
    if [count.injury] != list(injuries_here) and injuries_here:
        ours = " and ".join(INJURIES.get(kind, kind) for kind in injuries_here)
        words.append(f"Theirs are {INJURIES.get(count.injury, count.injury)} only; ours: {ours}.")
    words += [STATUS[count.status]] if STATUS[count.status] else []
    return PublishedRow(count, wilson(count.events, count.total), tuple(words), time)


def _comparison(
    construct: str, local: LocalRate | None, rows: tuple[PublishedRow, ...]
) -> Comparison:
    usable = [row.count for row in rows if row.count.status != "memory"]
    events = tuple(one.events for one in usable)
    totals = tuple(one.total for one in usable)
    pooled = _pooled(events, totals) if len(usable) >= POOLED_FROM else None
    return Comparison(
        construct=construct,
        local=local,
        rows=rows,
        pooled=pooled,
        pooled_events=sum(events),
        pooled_total=sum(totals),
        sentence=_comparison_words(local, len(usable), pooled, sum(events), sum(totals)),
    )


@lru_cache(maxsize=256)
def _pooled(events: tuple[int, ...], totals: tuple[int, ...]) -> PooledShare:
    # The same published counts are pooled again and again, and a fit takes a while.
    return logit_normal(events, totals)


def _comparison_words(
    local: LocalRate | None, series: int, pooled: PooledShare | None, events: int, total: int
) -> str:
    if pooled is None:
        theirs = "Too few series to pool."
    else:
        theirs = f"{series} series, {events} of {total}; pooled {_interval(pooled)}"
        known = pooled.prediction_low == pooled.prediction_low
        theirs += (
            f"; 95% prediction interval for the true rate of one more unit "
            f"{percent(pooled.prediction_low)} to {percent(pooled.prediction_high)}."
            if known
            else "; with so few series, where one more unit would lie is not known."
        )
    if local is None:
        return f"{theirs} Nobody here can be judged."
    ours = f"{local.events} of {local.evaluable} judged, {_interval(local.rate)}"
    return f"{theirs} Ours: {ours}."


def _sentence(
    chosen: Sequence[PublishedCount],
    comparisons: Sequence[Comparison],
    definition: EndpointDefinition,
) -> str:
    if not chosen:
        return f"No published count of '{definition.name}' is carried here."
    series = len({count.source for count in chosen})
    alike = sum(definition.id in count.like for count in chosen)
    marked = sum(count.status == "memory" for count in chosen)
    memory = f" From memory: {marked}." if marked else ""
    kinds = len(comparisons)
    return (
        f"{_many(len(chosen), 'published count')} of {_many(series, 'source')} for "
        f"{_many(kinds, 'kind')} of construct; {alike} by a rule like ours.{memory}"
    )


def _many(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _interval(found: "Estimate | PooledShare") -> str:
    return f"{percent(found.estimate)} (95% interval {percent(found.low)} to {percent(found.high)})"


def percent(share: float) -> str:
    """Write a share as a percentage with one decimal."""
    return f"{share * 100:.1f}%"


def to_rows(result: LiteratureAnswer) -> list[dict[str, Any]]:
    """Return ours, each published count and each pooled one as plain rows; shares from 0 to 1."""
    rows: list[dict[str, Any]] = []
    for one in result.comparisons:
        if one.local is not None:
            local = one.local
            rows.append(_plain(one, "ours", local.events, local.evaluable, local.rate))
        for row in one.rows:
            count = row.count
            plain = _plain(one, count.citation, count.events, count.total, row.rate)
            rows.append(
                {
                    **plain,
                    "injury": count.injury,
                    "status": count.status,
                    "differences": " ".join(row.differences),
                }
            )
        if one.pooled is not None:
            pooled = _plain(one, "pooled", one.pooled_events, one.pooled_total, one.pooled)
            known = one.pooled.prediction_low == one.pooled.prediction_low
            limits = (one.pooled.prediction_low, one.pooled.prediction_high)
            low, high = limits if known else (None, None)
            rows.append({**pooled, "prediction_low": low, "prediction_high": high})
    return rows


def _plain(
    one: Comparison, what: str, events: int, total: int, rate: "Estimate | PooledShare"
) -> dict[str, Any]:
    return {
        "construct": one.construct or "several",
        "what": what,
        "events": events,
        "total": total,
        "rate": rate.estimate,
        "rate_low": rate.low,
        "rate_high": rate.high,
        "prediction_low": None,
        "prediction_high": None,
        "injury": "",
        "status": "",
        "differences": "",
    }
