"""Right-censored survival by the product limit."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

Floats = NDArray[np.float64]


def kaplan_meier(
    durations: ArrayLike,
    observed: ArrayLike,
    entry: ArrayLike | None = None,
    weights: ArrayLike | None = None,
    level: float = 0.95,
) -> pd.DataFrame:
    """Return the product-limit curve at every distinct time, ascending.

    A subject is at risk in (entry, duration]; an event at a time happens before a censoring at it.
    Columns: at_risk, events, censored, survival, std_error (Greenwood), low, high (log-log).
    Raises ValueError on bad input.

    References: Kaplan and Meier 1958; Greenwood 1926; Kalbfleisch and Prentice 1980 (log-log).
    """
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


def log_log_limits(survival: Floats, std_error: Floats, level: float) -> tuple[Floats, Floats]:
    """Return limits on the complementary log-log scale; both are S itself where S is 0 or 1."""
    z = float(ndtri(0.5 + level / 2))
    inside = (survival > 0) & (survival < 1) & np.isfinite(std_error)
    safe = np.where(inside, survival, 0.5)
    spread = np.where(inside, std_error, 0.0) / (safe * np.abs(np.log(safe)))
    low = np.where(inside, safe ** np.exp(z * spread), survival)
    high = np.where(inside, safe ** np.exp(-z * spread), survival)
    return low, high


def _inputs(
    durations: ArrayLike, observed: ArrayLike, entry: ArrayLike | None, weights: ArrayLike | None
) -> tuple[Floats, NDArray[np.bool_], Floats, Floats]:
    times = as_times(durations, "durations")
    happened = np.asarray(observed)
    if happened.shape != times.shape:
        raise ValueError(f"durations has {times.size} values, observed has {happened.size}")
    if not np.isin(happened, (0, 1)).all():
        raise ValueError("observed must hold only 0 and 1 (or False and True)")
    entered = np.full(times.shape, -np.inf) if entry is None else as_times(entry, "entry")
    if entered.shape != times.shape or (entered >= times).any():
        raise ValueError("each entry must be before its duration")
    weight = np.ones(times.shape) if weights is None else np.asarray(weights, dtype=float)
    if weight.shape != times.shape or not np.isfinite(weight).all() or (weight < 0).any():
        raise ValueError("weights must be finite, not negative, and one for each duration")
    return times, happened.astype(bool), entered, weight


def as_times(values: ArrayLike, name: str) -> Floats:
    """Return an array of times.

    Raises ValueError when it is empty, negative or not a number.
    """
    times = np.asarray(values, dtype=float)
    if times.ndim != 1 or times.size == 0:
        raise ValueError(f"{name} must be a list with at least one value")
    if not np.isfinite(times).all():
        raise ValueError(f"{name} must not hold missing or infinite values")
    if (times < 0).any():
        raise ValueError(f"{name} must not be negative")
    return times


def _counts(
    times: Floats, happened: NDArray[np.bool_], entered: Floats, weight: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    points, place = np.unique(times, return_inverse=True)
    events = np.bincount(place, weights=weight * happened, minlength=points.size)
    leaving = np.bincount(place, weights=weight, minlength=points.size)
    staying = leaving[::-1].cumsum()[::-1]
    if np.isneginf(entered).all():
        at_risk = staying
    else:
        # Those who have not entered before a time are not at risk at it.
        order = np.argsort(entered)
        summed = np.concatenate([[0.0], np.cumsum(weight[order])])
        before = np.searchsorted(entered[order], points, side="left")
        at_risk = staying - (summed[-1] - summed[before])
    return points, at_risk, events, leaving - events
