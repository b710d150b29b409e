"""Does the answer depend on the rule? One cohort under every definition and every fate of the missing."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers import horizons
from analytics.answers.horizons import STATES, Horizon
from analytics.answers.outcomes import ALL, groups_of, percent
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.estimators.proportions import missing_bounds, wilson
from analytics.estimators.results import Bounds, Estimate


@dataclass(frozen=True)
class Tally:
    """One group under one definition: counts as in the table of rates, without the keys of cases."""

    group: str
    operated: int
    eligible: int
    evaluable: int
    events: int
    competing: int
    rate: Estimate | None
    bounds: Bounds | None


@dataclass(frozen=True)
class Line:
    """One definition: all groups together, and each."""

    definition: EndpointDefinition
    total: Tally
    groups: tuple[Tally, ...]


@dataclass(frozen=True)
class Strip:
    """The lines in the order in which the definitions ship, and what they say together."""

    horizon: Horizon
    by: str
    lines: tuple[Line, ...]
    sentence: str


def answer(
    data: Data,
    definitions: Iterable[EndpointDefinition],
    horizon: Horizon,
    *,
    by: str = "construct_type",
) -> Strip:
    """Compute the rate at a horizon under each definition; those that cannot be asked yet are left out.

    Raises ValueError when the cases have no such column to group by.
    """
    if by not in data.cases.columns:
        raise ValueError(f"cases have no column '{by}' to group by")
    groups = groups_of(data.cases, by)
    asked = [one for one in definitions if one.from_days <= horizon.days]
    lines = tuple(_line(data, one, horizon, groups) for one in asked)
    return Strip(horizon, by, lines, _sentence(lines, horizon))


def _line(
    data: Data, definition: EndpointDefinition, horizon: Horizon, groups: "pd.Series[Any]"
) -> Line:
    applied = apply(definition, data)
    states = horizons.states_at(applied, data.cases, horizon, pd.Timestamp(data.cutoff))
    total, *each = tallies(states["state"], groups)
    return Line(definition, total, tuple(each))


def tallies(states: "pd.Series[Any]", groups: "pd.Series[Any]") -> list[Tally]:
    """Count states for all cases and then for each group, in order of the groups' names."""
    at, names = pd.factorize(groups.astype(str), sort=True)
    state = pd.Index(STATES).get_indexer(pd.Index(states))
    size = len(STATES)
    counts = np.bincount(at * size + state, minlength=len(names) * size).reshape(-1, size)
    every = [(ALL, counts.sum(axis=0)), *zip(names, counts, strict=True)]
    return [_tally(str(name), dict(zip(STATES, map(int, row), strict=True))) for name, row in every]


def _tally(group: str, count: dict[str, int]) -> Tally:
    evaluable = count["event"] + count["held"] + count["competing"]
    eligible = evaluable + count["not_evaluable"]
    return Tally(
        group=group,
        operated=eligible + count["not_eligible"],
        eligible=eligible,
        evaluable=evaluable,
        events=count["event"],
        competing=count["competing"],
        rate=wilson(count["event"], evaluable) if evaluable else None,
        bounds=missing_bounds(count["event"], evaluable, eligible) if eligible else None,
    )


def _sentence(lines: tuple[Line, ...], horizon: Horizon) -> str:
    rated = [(line, line.total.rate, line.total.bounds) for line in lines]
    known = [(line, rate, bounds) for line, rate, bounds in rated if rate and bounds]
    if not known:
        return f"Nobody can be judged at {horizon.name} under any definition yet."
    least = min(known, key=lambda one: one[1].estimate)
    most = max(known, key=lambda one: one[1].estimate)
    low, high = min(one[2].low for one in known), max(one[2].high for one in known)
    spread = (
        f"Under each of {len(known)} definitions the rate by {horizon.name} is "
        f"{percent(least[1].estimate)}"
        if least[1].estimate == most[1].estimate
        else f"By {horizon.name} the rate runs from {percent(least[1].estimate)} "
        f"({least[0].definition.name}) to {percent(most[1].estimate)} ({most[0].definition.name}) "
        f"over {len(known)} definitions"
    )
    return (
        f"{spread}. If none or all of those not judged had the event, it would lie between "
        f"{percent(low)} and {percent(high)}, whichever definition one takes."
    )


def to_rows(strip: Strip) -> list[dict[str, Any]]:
    """Return every definition by group, the total last, as plain rows; shares, not percentages."""
    return [
        plain_row(line.definition, tally)
        for line in strip.lines
        for tally in (*line.groups, line.total)
    ]


def plain_row(definition: EndpointDefinition, tally: Tally) -> dict[str, Any]:
    """Return one tally as plain values."""
    rate, bounds = tally.rate, tally.bounds
    return {
        "definition": definition.id,
        "version": definition.version,
        "group": tally.group,
        "operated": tally.operated,
        "eligible": tally.eligible,
        "evaluable": tally.evaluable,
        "not_evaluable": tally.eligible - tally.evaluable,
        "events": tally.events,
        "competing": tally.competing,
        "rate": rate.estimate if rate else None,
        "rate_low": rate.low if rate else None,
        "rate_high": rate.high if rate else None,
        "bound_low": bounds.low if bounds else None,
        "bound_high": bounds.high if bounds else None,
    }
