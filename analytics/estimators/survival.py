"""Right-censored survival by the product limit."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from analytics.estimators.inputs import (
    Floats,
    as_codes,
    as_entries,
    as_numbers,
    as_times,
    check_level,
    sum_at,
)

ROUNDING = 1e-12


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
    times, happened, entered, weight = _inputs(durations, observed, entry, weights)
    points, at_risk, events, censored = _counts(times, happened, entered, weight)
    with np.errstate(divide="ignore", invalid="ignore"):
        survival = np.cumprod(1 - np.where(at_risk > 0, events / at_risk, 0.0))
        terms = np.where(events > 0, events / (at_risk * (at_risk - events)), 0.0)
        spread = np.cumsum(terms)
        std_error = survival * np.sqrt(spread)
    low, high = log_log_limits(survival, std_error, level)
    columns = {
        "at_risk": at_risk,
        "events": events,
        "censored": censored,
        "survival": survival,
        "std_error": std_error,
        "low": low,
        "high": high,
    }
    return pd.DataFrame(columns, index=pd.Index(points, name="time"))


def log_log_limits(share: Floats, std_error: Floats, level: float) -> tuple[Floats, Floats]:
    """Return limits on the complementary log-log scale; both are the share where it is 0 or 1.

    A sum of shares that is 1 but for rounding counts as 1.

    References: Kalbfleisch and Prentice 1980; for a cumulative incidence Choudhury, Stat Med
    2002;21:1129.
    """
    z = float(ndtri(0.5 + level / 2))
    inside = (share > ROUNDING) & (share < 1 - ROUNDING) & np.isfinite(std_error)
    safe = np.where(inside, share, 0.5)
    spread = np.where(inside, std_error, 0.0) / (safe * np.abs(np.log(safe)))
    low = np.where(inside, safe ** np.exp(z * spread), share)
    high = np.where(inside, safe ** np.exp(-z * spread), share)
    return low, high


def _inputs(
    durations: ArrayLike, observed: ArrayLike, entry: ArrayLike | None, weights: ArrayLike | None
) -> tuple[Floats, NDArray[np.bool_], Floats, Floats]:
    times = as_times(durations, "durations")
    happened = as_codes(observed, times, "observed")
    if (happened > 1).any():
        raise ValueError("observed must hold only 0 and 1 (or False and True)")
    entered = np.full(times.shape, -np.inf) if entry is None else as_entries(entry, times)
    weight = np.ones(times.shape) if weights is None else as_numbers(weights, "weights")
    if weight.shape != times.shape or not np.isfinite(weight).all() or (weight < 0).any():
        raise ValueError("weights must be finite, not negative, and one for each duration")
    return times, happened.astype(bool), entered, weight


def _counts(
    times: Floats, happened: NDArray[np.bool_], entered: Floats, weight: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    points, place = np.unique(times, return_inverse=True)
    events = sum_at(place, weight * happened, points.size)
    leaving = sum_at(place, weight, points.size)
    at_risk = leaving[::-1].cumsum()[::-1]
    if not np.isneginf(entered).all():
        # Those who have not entered before a time are not at risk at it.
        order = np.argsort(entered)
        summed = np.concatenate([[0.0], np.cumsum(weight[order])])
        before = np.searchsorted(entered[order], points, side="left")
        # Whoever leaves at a time was at risk at it, whatever the rounding of the weights.
        at_risk = np.maximum(at_risk - (summed[-1] - summed[before]), leaving)
    return points, at_risk, events, leaving - events
