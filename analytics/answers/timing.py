"""When did it happen, and when was it found? Events that lie between two films, beside their films' days.

Both curves count a revision or a death as competing, so that only the day of the event differs.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analytics.answers import horizons
from analytics.answers.horizons import HORIZONS, Horizon
from analytics.answers.outcomes import ALL, MIN_AT_RISK, groups_of, percent
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.estimators import interval
from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.interval import IntervalIncidence
from analytics.estimators.proportions import wilson
from analytics.estimators.results import Estimate

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

    Both curves tell the share that had the event before a revision or a death: these are competing
    events, not the end of the watch. Raises ValueError when the cases have no such column to group by.
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
    last = np.sort(_last_days(lies))
    # Of this many the last day on which as many as the minimum are still known.
    stops_at = float(last[-least]) if last.size >= least else 0.0
    frame = interval.turnbull(lies["left"], lies["right"], lies["competing"]).frame
    frame = frame.loc[(frame["mass"] > 0) & np.isfinite(frame["right"])]
    frame = frame.loc[frame["left"] < stops_at]
    curve = cumulative_incidence(times["days"], times["cause"], cause=1)
    seen = curve.loc[(curve["events"] > 0) & (curve.index <= stops_at)]
    return Course(
        group=group,
        subjects=len(lies),
        events=int(np.isfinite(lies["right"]).sum()),
        stops_at=stops_at,
        share=tuple(frame["mass"].cumsum().tolist()),
        least_days=tuple(frame["right"].tolist()),
        most_days=tuple(frame["left"].tolist()),
        found_days=tuple(float(day) for day in seen.index),
        found_share=tuple(seen["incidence"].tolist()),
        at=_at(lies, last, curve, least),
    )


def _last_days(lies: pd.DataFrame) -> NDArray[np.float64]:
    """Return the day up to which something is known of each: its event, another, or its last film."""
    right = lies["right"].to_numpy()
    return np.where(np.isfinite(right), right, np.fmax(lies["left"], lies["competing"]))


def _at(
    lies: pd.DataFrame, last: NDArray[np.float64], curve: pd.DataFrame, least: int
) -> tuple[At, ...]:
    known = {row.code: int((last >= row.days).sum()) for row in HORIZONS.values()}
    told = [row for row in HORIZONS.values() if known[row.code] >= least]
    ends = lies["left"], lies["right"], [row.days for row in told]
    between = interval.incidences_at(*ends, seed=SEED, competing=lies["competing"]) if told else []
    by_code = {row.code: one for row, one in zip(told, between, strict=True)}
    return tuple(
        At(
            row,
            known[row.code],
            by_code.get(row.code),
            _found(curve, row.days, known[row.code]) if row.code in by_code else None,
        )
        for row in HORIZONS.values()
    )


def _found(curve: pd.DataFrame, day: int, known: int) -> Estimate:
    """Return the share found by a day; without an event Wilson's interval for none of those known."""
    upto = curve.loc[curve.index <= day]
    if not upto["events"].any():
        return wilson(0, known)
    row = upto.iloc[-1]
    return Estimate(float(row["incidence"]), float(row["low"]), float(row["high"]))


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
        f"An event is known only to lie between two films, {gap:.0f} days apart in the median. The "
        "curve of when it was found puts it on the day of the later film, so it runs late; the other "
        "lets it lie anywhere between the two. Both tell the share that had the event before a "
        "revision or a death."
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
