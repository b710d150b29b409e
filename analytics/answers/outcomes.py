"""Did it hold? Rates by group with denominators, intervals, what is missing, and the cases behind."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers import horizons
from analytics.answers.horizons import Horizon
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import REASONS, Applied, Data, EndpointDefinition
from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.proportions import missing_bounds, wilson
from analytics.estimators.results import Bounds, Estimate

MIN_AT_RISK = 5
ALL = "all"


@dataclass(frozen=True)
class Incidence:
    """Cumulative incidence at the horizon; None where fewer than the site's minimum are at risk."""

    estimate: Estimate | None
    at_risk: int


@dataclass(frozen=True)
class GroupRow:
    """One row of the table: every number can be opened to its case keys."""

    group: str
    operated: int
    eligible: int
    evaluable: int
    events: int
    competing: int
    not_evaluable: int
    reasons: Mapping[str, int]
    rate: Estimate | None
    bounds: Bounds | None
    incidence: Incidence
    cases: Mapping[str, tuple[int, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Curve:
    """A step curve of one group, cut where too few remain at risk; times in days."""

    group: str
    days: tuple[float, ...]
    incidence: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    at_risk: Mapping[int, int]
    stops_at: float


@dataclass(frozen=True)
class Answer:
    """The table, the curves and one sentence, with the definition and horizon that made them."""

    definition: EndpointDefinition
    horizon: Horizon
    by: str
    rows: tuple[GroupRow, ...]
    total: GroupRow
    curves: tuple[Curve, ...]
    sentence: str
    applied: Applied
    min_at_risk: int = MIN_AT_RISK


RISK_TABLE_DAYS = (0, 42, 91, 183, 365, 731)


def answer(
    data: Data,
    definition: EndpointDefinition,
    horizon: Horizon,
    *,
    by: str = "construct_type",
    min_at_risk: int = MIN_AT_RISK,
) -> Answer:
    """Compute rates of an endpoint at a horizon by a column of the cases.

    Raises ValueError when there is no such column.
    """
    if by not in data.cases.columns:
        raise ValueError(f"cases have no column '{by}' to group by")
    applied = apply(definition, data)
    states = horizons.states_at(applied, data.cases, horizon, pd.Timestamp(data.cutoff))
    times = horizons.times(applied, data.cases)
    group_of = data.cases[by].astype("object").where(data.cases[by].notna(), "not recorded")
    names = sorted(group_of.unique(), key=str)
    rows, curves = [], []
    for name in names:
        members = group_of.index[group_of == name]
        mine = times.loc[times.index.intersection(members)]
        frame = _curve_frame(mine)
        rows.append(_row(str(name), states.loc[members], frame, horizon, min_at_risk))
        if frame is not None:
            curves.append(_curve(str(name), frame, mine, min_at_risk))
    total = _row(ALL, states, _curve_frame(times), horizon, min_at_risk)
    return Answer(
        definition=definition,
        horizon=horizon,
        by=by,
        rows=tuple(rows),
        total=total,
        curves=tuple(curves),
        sentence=_sentence(total, definition, horizon),
        applied=applied,
        min_at_risk=min_at_risk,
    )


def _row(
    name: str,
    states: pd.DataFrame,
    frame: pd.DataFrame | None,
    horizon: Horizon,
    min_at_risk: int,
) -> GroupRow:
    by_state = {state: states.index[states["state"] == state] for state in horizons.STATES}
    count = {state: len(keys) for state, keys in by_state.items()}
    eligible = len(states) - count["not_eligible"]
    evaluable = count["event"] + count["held"] + count["competing"]
    reasons = states.loc[states["state"] == "not_evaluable", "reason"].value_counts()
    events = count["event"]
    return GroupRow(
        group=name,
        operated=len(states),
        eligible=eligible,
        evaluable=evaluable,
        events=events,
        competing=count["competing"],
        not_evaluable=count["not_evaluable"],
        reasons={str(code): int(number) for code, number in reasons.items()},
        rate=wilson(events, evaluable) if evaluable else None,
        bounds=missing_bounds(events, evaluable, eligible) if eligible else None,
        incidence=_incidence_at(frame, horizon, min_at_risk),
        cases=_cases(states, by_state),
    )


def _cases(states: pd.DataFrame, by_state: Mapping[str, pd.Index]) -> dict[str, tuple[int, ...]]:
    def keys(index: pd.Index) -> tuple[int, ...]:
        return tuple(int(key) for key in index)

    known = states.index[states["state"].isin(["event", "held", "competing"])]
    return {
        "operated": keys(states.index),
        "eligible": keys(states.index[states["state"] != "not_eligible"]),
        "evaluable": keys(known),
        "events": keys(by_state["event"]),
        "competing": keys(by_state["competing"]),
        "not_evaluable": keys(by_state["not_evaluable"]),
        **{
            f"reason:{code}": keys(states.index[states["reason"] == code])
            for code in REASONS
            if (states["reason"] == code).any()
        },
    }


def _curve_frame(times: pd.DataFrame) -> pd.DataFrame | None:
    if times.empty:
        return None
    return cumulative_incidence(times["days"].to_numpy(), times["cause"].to_numpy(), cause=1)


def _incidence_at(frame: pd.DataFrame | None, horizon: Horizon, min_at_risk: int) -> Incidence:
    if frame is None:
        return Incidence(None, 0)
    # Events found up to the end of the horizon's window count for it, as in the table beside.
    later = frame.loc[frame.index > horizon.days]
    at_risk = int(later["at_risk"].iloc[0]) if len(later) else 0
    if at_risk < min_at_risk:
        return Incidence(None, at_risk)
    before = frame.loc[frame.index <= horizon.last_day]
    if before.empty:
        return Incidence(Estimate(0.0, 0.0, 0.0), at_risk)
    last = before.iloc[-1]
    return Incidence(Estimate(*(float(last[k]) for k in ("incidence", "low", "high"))), at_risk)


def _curve(name: str, frame: pd.DataFrame, times: pd.DataFrame, min_at_risk: int) -> Curve:
    enough = frame.loc[frame["at_risk"] >= min_at_risk]
    stops_at = float(enough.index[-1]) if len(enough) else 0.0
    days = np.sort(times["days"].to_numpy())
    at_risk = {
        day: int(days.size - np.searchsorted(days, day, side="left")) for day in RISK_TABLE_DAYS
    }
    return Curve(
        group=name,
        days=(0.0, *(float(day) for day in enough.index)),
        incidence=(0.0, *(float(value) for value in enough["incidence"])),
        low=(0.0, *(float(value) for value in enough["low"])),
        high=(0.0, *(float(value) for value in enough["high"])),
        at_risk=at_risk,
        stops_at=stops_at,
    )


def _sentence(total: GroupRow, definition: EndpointDefinition, horizon: Horizon) -> str:
    if total.rate is None or total.bounds is None:
        return f"Nobody can be judged at {horizon.name} under '{definition.name}' yet."
    rate, bounds = total.rate, total.bounds
    unseen = total.eligible - total.evaluable
    return (
        f"By {horizon.name}, {total.events} of {total.evaluable} "
        f"({percent(rate.estimate)}; 95% interval {percent(rate.low)} to {percent(rate.high)}) "
        f"under '{definition.name}'. {unseen} of {total.eligible} eligible could not be judged; "
        f"had none or all of them had the event, the rate would be {percent(bounds.low)} or "
        f"{percent(bounds.high)}."
    )


def percent(share: float) -> str:
    """Write a share as a percentage with one decimal."""
    return f"{share * 100:.1f}%"


COLUMNS: dict[str, str] = {
    "group": "group",
    "operated": "index procedures in the cohort",
    "eligible": "operated long enough before the data cut-off",
    "evaluable": "state at the horizon known",
    "events": "event by the horizon",
    "competing": "revision or death came first",
    "not_evaluable": "eligible but not judged",
    "rate": "events / evaluable",
    "rate_low": "lower end of Wilson's 95 % interval",
    "rate_high": "upper end of Wilson's 95 % interval",
    "bound_low": "rate if none of those not judged had the event",
    "bound_high": "rate if all of those not judged had the event",
    "incidence": "cumulative incidence with competing events",
    "incidence_low": "lower end of its 95 % interval",
    "incidence_high": "upper end of its 95 % interval",
    "at_risk": "still at risk after the horizon",
}


def to_rows(result: Answer) -> list[dict[str, Any]]:
    """Return the table as plain rows: page, command, API and CSV all come from here."""
    return [plain_row(row) for row in (*result.rows, result.total)]


def plain_row(row: GroupRow) -> dict[str, Any]:
    """Return one row of the table as plain values; shares, not percentages."""
    rate, bounds, incidence = row.rate, row.bounds, row.incidence.estimate
    return {
        "group": row.group,
        "operated": row.operated,
        "eligible": row.eligible,
        "evaluable": row.evaluable,
        "events": row.events,
        "competing": row.competing,
        "not_evaluable": row.not_evaluable,
        "rate": rate.estimate if rate else None,
        "rate_low": rate.low if rate else None,
        "rate_high": rate.high if rate else None,
        "bound_low": bounds.low if bounds else None,
        "bound_high": bounds.high if bounds else None,
        "incidence": incidence.estimate if incidence else None,
        "incidence_low": incidence.low if incidence else None,
        "incidence_high": incidence.high if incidence else None,
        "at_risk": row.incidence.at_risk,
    }
