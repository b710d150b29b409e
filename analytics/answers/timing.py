"""When did it happen, and when was it found? Events that lie between two films, beside their films' days."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers import horizons
from analytics.answers.horizons import HORIZONS, Horizon
from analytics.answers.outcomes import ALL, MIN_AT_RISK, groups_of, percent
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.estimators import interval
from analytics.estimators.interval import IntervalIncidence
from analytics.estimators.results import Estimate
from analytics.estimators.survival import kaplan_meier

SEED = 0
# Two shares that a page would write alike.
SAME = 5e-4


@dataclass(frozen=True)
class At:
    """One horizon: the share by when it happened and by when it was found; None where too few.

    `known` are those about whom something is known at or after the horizon's day.
    """

    horizon: Horizon
    known: int
    between: IntervalIncidence | None
    found: Estimate | None


@dataclass(frozen=True)
class Course:
    """One group. Where the share is not identified it lies between `least` and `most`.

    `share` are the heights of the curve; the least reaches them on `least_days`, the most on
    `most_days`. The curve of when it was found has `found_days` and `found_share`. Both end at
    `stops_at`, where fewer than the site's minimum are still known. Times in days.
    """

    group: str
    subjects: int
    events: int
    stops_at: float
    share: tuple[float, ...]
    least_days: tuple[float, ...]
    most_days: tuple[float, ...]
    found_days: tuple[float, ...]
    found_share: tuple[float, ...]
    at: tuple[At, ...]


@dataclass(frozen=True)
class Timing:
    """All groups together and each; how wide the intervals are, a test of groups, and a sentence."""

    definition: EndpointDefinition
    horizon: Horizon
    by: str
    total: Course | None
    courses: tuple[Course, ...]
    median_gap_days: float | None
    p_value: float | None
    compared: tuple[str, ...]
    sentence: str


def answer(
    data: Data,
    definition: EndpointDefinition,
    horizon: Horizon,
    *,
    by: str = "construct_type",
    min_at_risk: int = MIN_AT_RISK,
) -> Timing:
    """Estimate when an event happened from the films between which it lies.

    A revision or a death that came first ends the watch: the shares are those if neither came. Raises
    ValueError when the cases have no such column to group by.
    """
    if by not in data.cases.columns:
        raise ValueError(f"cases have no column '{by}' to group by")
    applied = apply(definition, data)
    lies = horizons.intervals(applied, data.cases)
    times = horizons.times(applied, data.cases)
    groups = groups_of(data.cases, by).astype(str)
    parts = [
        (str(name), members, times.loc[times.index.intersection(members.index)])
        for name, members in lies.groupby(groups.reindex(lies.index), sort=True)
    ]
    courses = tuple(_course(*part, min_at_risk) for part in parts)
    total = _course(ALL, lies, times, min_at_risk) if len(lies) else None
    happened = lies.loc[np.isfinite(lies["right"])]
    gap = float((happened["right"] - happened["left"]).median()) if len(happened) else None
    p_value, compared = _test(lies, groups, courses, min_at_risk)
    return Timing(
        definition=definition,
        horizon=horizon,
        by=by,
        total=total,
        courses=courses,
        median_gap_days=gap,
        p_value=p_value,
        compared=compared,
        sentence=_sentence(total, horizon, gap),
    )


def _course(group: str, lies: pd.DataFrame, times: pd.DataFrame, least: int) -> Course:
    left, right = lies["left"].to_numpy(), lies["right"].to_numpy()
    last = np.sort(np.where(np.isfinite(right), right, left))
    # Of this many the last day on which as many as the minimum are still known.
    stops_at = float(last[-least]) if last.size >= least else 0.0
    frame = interval.turnbull(left, right).frame
    frame = frame.loc[(frame["mass"] > 0) & np.isfinite(frame["right"])]
    frame = frame.loc[frame["left"] < stops_at]
    curve = kaplan_meier(times["days"].to_numpy(), times["cause"].to_numpy() == 1)
    seen = curve.loc[(curve["events"] > 0) & (curve.index <= stops_at)]
    return Course(
        group=group,
        subjects=len(lies),
        events=int(np.isfinite(right).sum()),
        stops_at=stops_at,
        share=tuple(frame["mass"].cumsum().tolist()),
        least_days=tuple(frame["right"].tolist()),
        most_days=tuple(frame["left"].tolist()),
        found_days=tuple(float(day) for day in seen.index),
        found_share=tuple((1 - seen["survival"]).tolist()),
        at=_at(left, right, last, curve, least),
    )


def _at(
    left: "np.ndarray[Any, Any]",
    right: "np.ndarray[Any, Any]",
    last: "np.ndarray[Any, Any]",
    curve: pd.DataFrame,
    least: int,
) -> tuple[At, ...]:
    known = {row.code: int((last >= row.days).sum()) for row in HORIZONS.values()}
    told = [row for row in HORIZONS.values() if known[row.code] >= least]
    between = (
        interval.incidences_at(left, right, [row.days for row in told], seed=SEED) if told else []
    )
    by_code = {row.code: one for row, one in zip(told, between, strict=True)}
    return tuple(
        At(
            row,
            known[row.code],
            by_code.get(row.code),
            _found(curve, row.days) if row.code in by_code else None,
        )
        for row in HORIZONS.values()
    )


def _found(curve: pd.DataFrame, day: int) -> Estimate:
    upto = curve.loc[curve.index <= day]
    if upto.empty:
        return Estimate(0.0, 0.0, 0.0)
    row = upto.iloc[-1]
    return Estimate(1 - float(row["survival"]), 1 - float(row["high"]), 1 - float(row["low"]))


def _test(
    lies: pd.DataFrame, groups: "pd.Series[Any]", courses: tuple[Course, ...], least: int
) -> tuple[float | None, tuple[str, ...]]:
    names = tuple(one.group for one in courses if one.subjects >= least)
    mine = groups.reindex(lies.index)
    some = lies.loc[mine.isin(names)]
    if len(names) < 2 or not np.isfinite(some["right"]).any():
        return None, names
    found = interval.compare(
        some["left"], some["right"], mine.loc[some.index].to_numpy(), seed=SEED
    )
    return found.p_permutation, names


def _sentence(total: Course | None, horizon: Horizon, gap: float | None) -> str:
    if total is None or gap is None:
        return "Nobody has had the event between two films yet."
    here = {one.horizon.code: one for one in total.at}[horizon.code]
    why = (
        f"An event is known only to lie between two films, {gap:.0f} days apart in the median: the "
        "curve of when it was found puts it on the day of the later film, so it runs late, and leaves "
        "out by then whoever was last filmed before that day; the other lets it lie anywhere between "
        "the two."
    )
    if here.between is None or here.found is None:
        return f"{why} Too few are known at {horizon.name} to say how much that changes."
    lies = here.between
    return (
        f"{why} By day {horizon.days} it had happened in {span_words(lies)}, 95% interval {percent(lies.low)} to "
        f"{percent(lies.high)}, and had been found in {percent(here.found.estimate)} "
        f"({percent(here.found.low)} to {percent(here.found.high)})."
    )


def span_words(lies: IntervalIncidence) -> str:
    """Write a share, or the two between which films do not tell where it lies."""
    if lies.upper - lies.lower <= SAME:
        return percent(lies.estimate)
    return f"{percent(lies.lower)} to {percent(lies.upper)} (films do not tell where between)"


def to_rows(found: Timing) -> list[dict[str, Any]]:
    """Return every group at every horizon as plain rows; shares, not percentages."""
    courses = (*found.courses, *([found.total] if found.total else ()))
    return [
        {
            "group": course.group,
            "horizon": one.horizon.code,
            "day": one.horizon.days,
            "subjects": course.subjects,
            "known": one.known,
            **_happened(one.between),
            "found": one.found.estimate if one.found else None,
            "found_low": one.found.low if one.found else None,
            "found_high": one.found.high if one.found else None,
        }
        for course in courses
        for one in course.at
    ]


def _happened(one: IntervalIncidence | None) -> dict[str, Any]:
    names = ("lower", "upper", "low", "high", "method")
    return {f"happened_{name}": getattr(one, name) if one else None for name in names}
