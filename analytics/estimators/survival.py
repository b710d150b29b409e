"""Right-censored survival by the product limit, and its comparison."""

import math

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, ndtri

from analytics.estimators.inputs import (
    Codes,
    Floats,
    as_entries,
    as_groups,
    as_line,
    as_numbers,
    as_observed,
    check_level,
    counted,
    sum_at,
)
from analytics.estimators.results import GroupTest, Mean

ROUNDING = 1e-12
COLUMNS = pd.Index(["at_risk", "events", "censored", "survival", "std_error", "low", "high"])
GROUPS = pd.Index(["observed", "expected"])


def kaplan_meier(
    durations: ArrayLike,
    observed: ArrayLike,
    entry: ArrayLike | None = None,
    weights: ArrayLike | None = None,
    level: float = 0.95,
) -> pd.DataFrame:
    """Return the product-limit curve at every distinct time, ascending.

    A subject is at risk in (entry, duration]; an event at a time happens before a censoring at it.
    Columns: at_risk, events, censored, survival, std_error (Greenwood), low, high (log-log). Where
    nobody is left the standard error is not defined and is NaN. Raises ValueError on bad input.

    References: Kaplan and Meier 1958; Greenwood 1926; Kalbfleisch and Prentice 1980 (log-log).
    """
    check_level(level)
    line = as_line(durations, "durations")
    happened = as_observed(observed, line[1])
    entered = None if entry is None else as_entries(entry, line[0][line[1]])
    weight = None if weights is None else _as_weights(weights, line[1].size)
    points, at_risk, events, leaving = _counts(line, happened, entered, weight)
    survival, std_error = _product_limit(at_risk, events)
    low, high = log_log_limits(survival, std_error, level)
    values = np.array([at_risk, events, leaving - events, survival, std_error, low, high])
    return pd.DataFrame(values.T, pd.Index(points, name="time"), COLUMNS, copy=False)


def log_log_limits(share: Floats, std_error: Floats, level: float) -> tuple[Floats, Floats]:
    """Return limits on the complementary log-log scale; both are the share where it is 0 or 1.

    A sum of shares that is 1 but for rounding counts as 1.

    References: Kalbfleisch and Prentice 1980; for a cumulative incidence Choudhury, Stat Med
    2002;21:1129.
    """
    z = float(ndtri(0.5 + level / 2))
    inside = (share > ROUNDING) & (share < 1 - ROUNDING)
    safe = np.where(inside, share, 0.5)
    log = np.log(safe)
    ratio = np.exp(std_error * -z / (safe * log))
    low, high = np.exp(log * ratio), np.exp(log / ratio)
    if not inside.all():
        low[~inside] = high[~inside] = share[~inside]
    return low, high


def rmst(durations: ArrayLike, observed: ArrayLike, horizon: float, level: float = 0.95) -> Mean:
    """Return the mean time without the event up to a horizon, in the unit of the durations.

    It is the area under the product-limit curve; the interval is estimate and standard error on
    the plain scale. Raises ValueError on bad input, and where the curve is not known up to the
    horizon because the last subject was censored before it.

    References: Irwin 1949; variance as in Klein and Moeschberger 2003, section 4.5.
    """
    check_level(level)
    line = as_line(durations, "durations")
    happened = as_observed(observed, line[1])
    if not (
        isinstance(horizon, int | float | np.number) and math.isfinite(horizon) and horizon > 0
    ):
        raise ValueError(f"the horizon must be above 0, got {horizon}")
    points, at_risk, events, _ = _counts(line, happened, None, None)
    survival, _ = _product_limit(at_risk, events)
    if horizon > points[-1] and survival[-1] > 0:
        raise ValueError(
            f"the curve is known up to {points[-1]:g} only, which is before the horizon {horizon:g}"
        )
    inside = points < horizon
    edges = np.concatenate([[0.0], points[inside], [float(horizon)]])
    areas = np.diff(edges) * np.concatenate([[1.0], survival[inside]])
    after = areas[::-1].cumsum()[::-1][1:]
    n, d = at_risk[inside], events[inside]
    # Where all have the event there is no area after it.
    terms = d / np.where(n > d, n * (n - d), np.inf)
    mean, std_error = float(areas.sum()), math.sqrt(float(after**2 @ terms))
    half = float(ndtri(0.5 + level / 2)) * std_error
    return Mean(mean, mean - half, mean + half, std_error)


def logrank(
    durations: ArrayLike,
    observed: ArrayLike,
    groups: ArrayLike,
    strata: ArrayLike | None = None,
    rho: float = 0.0,
) -> GroupTest:
    """Test that the groups have one survival curve, within strata if these are given.

    The statistic is chi-squared with one degree of freedom less than there are groups with
    somebody at risk at an event. `rho` above 0 weights each event by the curve of all before it,
    raised to that power, so that early events count more. Without an event, or where no two
    groups are ever at risk together, the statistic is 0 and p_value 1. Raises ValueError on bad
    input and on fewer than two groups.

    References: Mantel 1966 (hypergeometric variance); Harrington and Fleming 1982 (rho).
    """
    points, place = as_line(durations, "durations")
    happened = as_observed(observed, place)
    group, labels = as_groups(groups, place.size, "groups")
    if labels.size < 2:
        raise ValueError("a comparison needs at least two groups")
    seen, expected = np.zeros(labels.size), np.zeros(labels.size)
    gap, variance = np.zeros(labels.size), np.zeros((labels.size, labels.size))
    for rows in parts_of(strata, place.size):
        axes = (happened[rows], 2), (group[rows], labels.size), (place[rows], points.size)
        events, at_risk = _at_events(counted(*axes))
        foreseen, weight, spread = _expected(events, at_risk, rho)
        seen += events.sum(axis=1)
        expected += foreseen.sum(axis=1)
        gap += (events - foreseen) @ weight
        variance += spread
    statistic, df, p_value = quadratic_form(gap, variance)
    return GroupTest(statistic, df, p_value, observed_expected(seen, expected, labels))


def quadratic_form(gap: Floats, variance: Floats) -> tuple[float, int, float]:
    """Return the chi-squared statistic of scores that add up to 0, its freedom and probability.

    The freedom is the rank of the variance. Where that is 0, nothing could be compared: the
    statistic is 0 with one degree less than there are scores, and the probability 1.
    """
    values, vectors = np.linalg.eigh(variance)
    kept = values > 1e-9 * max(values[-1], 1e-30)
    if values[-1] <= ROUNDING:
        return 0.0, gap.size - 1, 1.0
    along = gap @ vectors[:, kept]
    statistic, df = float(along**2 @ (1 / values[kept])), int(kept.sum())
    return statistic, df, float(chdtrc(df, statistic))


def observed_expected(observed: Floats, expected: Floats, labels: pd.Index) -> pd.DataFrame:
    """Return a frame of what each group had and what it would have, were all alike."""
    return pd.DataFrame(np.array([observed, expected]).T, labels, GROUPS, copy=False)


def parts_of(strata: ArrayLike | None, size: int) -> list[slice] | list[Codes]:
    """Return the rows of each stratum; all rows where there are no strata.

    Raises ValueError unless there is one stratum for each row, and none missing.
    """
    if strata is None:
        return [slice(None)]
    codes, _ = as_groups(strata, size, "strata")
    order = np.argsort(codes, kind="stable")
    return np.split(order, np.cumsum(np.bincount(codes))[:-1])


def _as_weights(weights: ArrayLike, size: int) -> Floats:
    weight = as_numbers(weights, "weights")
    if weight.shape != (size,) or not np.isfinite(weight).all() or (weight < 0).any():
        raise ValueError("weights must be finite, not negative, and one for each duration")
    return weight


def _counts(
    line: tuple[Floats, Codes],
    happened: NDArray[np.int_],
    entered: Floats | None,
    weight: Floats | None,
) -> tuple[Floats, Floats, Floats, Floats]:
    points, place = line
    censored, ended = counted((happened, 2), (place, points.size))
    kept = np.flatnonzero(censored + ended)
    if weight is not None:
        ended = sum_at(place, weight * happened, points.size)
        censored = sum_at(place, weight, points.size) - ended
    points, events = points[kept], ended[kept].astype(float)
    leaving = censored[kept] + events
    at_risk = leaving[::-1].cumsum()[::-1]
    if entered is not None:
        # Those who have not entered before a time are not at risk at it.
        order = np.argsort(entered)
        ordered = np.ones(place.size) if weight is None else weight[order]
        summed = np.concatenate([[0.0], np.cumsum(ordered)])
        before = np.searchsorted(entered[order], points, side="left")
        # Whoever leaves at a time was at risk at it, whatever the rounding of the weights.
        at_risk = np.maximum(at_risk - (summed[-1] - summed[before]), leaving)
    return points, at_risk, events, leaving


def _product_limit(at_risk: Floats, events: Floats) -> tuple[Floats, Floats]:
    left = at_risk - events
    # Only a subject without weight can find nobody at risk; then nothing happens to the curve.
    risk = at_risk if at_risk.min() > 0 else np.where(at_risk > 0, at_risk, 1.0)
    room = risk * left
    room[left <= 0] = np.inf
    survival: Floats = np.cumprod(1 - events / risk)
    std_error = survival * np.sqrt(np.cumsum(events / room))
    if not survival[-1] > 0:
        std_error[survival <= 0] = np.nan
    return survival, std_error


def _at_events(cells: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return events and numbers at risk, a row for each group, a column for each event time."""
    kept = np.flatnonzero(cells[1].sum(axis=0))
    at_risk = cells.sum(axis=0)[:, ::-1].cumsum(axis=1)[:, ::-1]
    return cells[1][:, kept].astype(float), at_risk[:, kept].astype(float)


def _expected(events: Floats, at_risk: Floats, rho: float) -> tuple[Floats, Floats, Floats]:
    n, d = at_risk.sum(axis=0), events.sum(axis=0)
    share = at_risk / n
    terms = d * (n - d) / np.maximum(n - 1, 1)
    weight = np.ones(d.size)
    if rho != 0:
        weight[1:] = np.cumprod(1 - d / n)[:-1] ** rho
        terms *= weight**2
    variance = np.diag(share @ terms) - (share * terms) @ share.T
    return d * share, weight, variance
