"""Did it hold? Rates by group with denominators, intervals, what is missing, and the cases behind."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

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
    """Cumulative incidence at the horizon; None where fewer than the site's minimum are at risk.

    Where no event was found the interval is Wilson's for none of those still at risk.
    """

    estimate: Estimate | None
    at_risk: int


@dataclass(frozen=True)
class GroupRow:
    """One row of the table: every number can be opened to its case keys.

    operated >= eligible = evaluable + not_evaluable; evaluable = events + held + competing; the
    reasons add up to not_evaluable. `cases` has the keys behind each of these and behind each reason.
    """

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


RISK_TABLE_DAYS = (0, 183, 365, 548, 731)


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
    cutoff = pd.Timestamp(data.cutoff)
    states = horizons.states_at(applied, data.cases, horizon, cutoff)
    times = horizons.times(applied, data.cases)
    groups = groups_of(data.cases, by)
    times_of = dict(iter(times.groupby(groups.reindex(times.index))))
    rows, curves = [], []
    for name, members in sorted(states.groupby(groups), key=lambda pair: str(pair[0])):
        mine = times_of.get(name, times.iloc[:0])
        frame = _curve_frame(mine)
        rows.append(_row(str(name), members, frame, horizon, min_at_risk))
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


def groups_of(cases: pd.DataFrame, by: str) -> "pd.Series[Any]":
    """Return the group of each case; one whose group nobody recorded is in a group of that name."""
    return cases[by].astype("object").where(cases[by].notna(), "not recorded")


def _row(
    name: str,
    states: pd.DataFrame,
    frame: pd.DataFrame | None,
    horizon: Horizon,
    min_at_risk: int,
) -> GroupRow:
    cases = _cases(states)
    count = {which: len(keys) for which, keys in cases.items()}
    events, evaluable, eligible = count["events"], count["evaluable"], count["eligible"]
    return GroupRow(
        group=name,
        operated=count["operated"],
        eligible=eligible,
        evaluable=evaluable,
        events=events,
        competing=count["competing"],
        not_evaluable=count["not_evaluable"],
        reasons={code: count[f"reason:{code}"] for code in REASONS if f"reason:{code}" in count},
        rate=wilson(events, evaluable) if evaluable else None,
        bounds=missing_bounds(events, evaluable, eligible) if eligible else None,
        incidence=_incidence_at(frame, horizon, min_at_risk),
        cases=cases,
    )


def _cases(states: pd.DataFrame) -> dict[str, tuple[int, ...]]:
    """Return the case keys behind each number of a row."""
    keys = states.index.to_numpy()
    state, reasons = states["state"].to_numpy(), states["reason"].to_numpy()

    def where(chosen: NDArray[np.bool_]) -> tuple[int, ...]:
        return tuple(keys[chosen].tolist())

    is_in = {name: state == name for name in horizons.STATES}
    present = set(reasons) - {""}
    return {
        "operated": tuple(keys.tolist()),
        "eligible": where(~is_in["not_eligible"]),
        "evaluable": where(is_in["event"] | is_in["held"] | is_in["competing"]),
        "events": where(is_in["event"]),
        "held": where(is_in["held"]),
        "competing": where(is_in["competing"]),
        "not_evaluable": where(is_in["not_evaluable"]),
        **{f"reason:{code}": where(reasons == code) for code in REASONS if code in present},
    }


def _curve_frame(times: pd.DataFrame) -> pd.DataFrame | None:
    if times.empty:
        return None
    return cumulative_incidence(times["days"].to_numpy(), times["cause"].to_numpy(), cause=1)


def _incidence_at(frame: pd.DataFrame | None, horizon: Horizon, min_at_risk: int) -> Incidence:
    if frame is None:
        return Incidence(None, 0)
    days = frame.index.to_numpy()
    later = np.searchsorted(days, horizon.days, side="right")
    at_risk = int(frame["at_risk"].iloc[later]) if later < days.size else 0
    if at_risk < min_at_risk:
        return Incidence(None, at_risk)
    # Events found up to the end of the horizon's window count for it, as in the table beside; but
    # none beyond the end of the curve.
    ends = days[frame["at_risk"].to_numpy() >= min_at_risk][-1]
    upto = np.searchsorted(days, min(horizon.last_day, ends), side="right")
    share, low, high = (
        float(frame[name].iloc[upto - 1]) if upto else 0.0 for name in ("incidence", "low", "high")
    )
    if share == 0.0:
        # Without an event the curve has no interval of its own.
        return Incidence(wilson(0, at_risk), at_risk)
    return Incidence(Estimate(share, low, high), at_risk)


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
        f"By {horizon.name}, {total.events} of {total.evaluable} judged "
        f"({percent(rate.estimate)}; 95% interval {percent(rate.low)} to {percent(rate.high)}) had "
        f"the event '{definition.name}'. {unseen} of {total.eligible} eligible could not be judged; "
        f"had none or all of them had the event, the rate would be {percent(bounds.low)} or "
        f"{percent(bounds.high)}.{_incidence(total.incidence.estimate)}"
    )


def _incidence(found: Estimate | None) -> str:
    if found is None:
        return ""
    return (
        " Cumulative incidence, which counts everybody for as long as they were seen: "
        f"{percent(found.estimate)} ({percent(found.low)} to {percent(found.high)})."
    )


def percent(share: float) -> str:
    """Write a share as a percentage with one decimal."""
    return f"{share * 100:.1f}%"


COLUMNS: dict[str, str] = {
    "group": "group",
    "operated": "index procedures in the cohort",
    "eligible": "operated long enough before the data cut-off, of those whom the endpoint is about",
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
