"""Cumulative incidence where other events can come first."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from analytics.estimators.inputs import Floats, as_codes, as_entries, as_times, check_level, sum_at
from analytics.estimators.survival import log_log_limits


def cumulative_incidence(
    durations: ArrayLike,
    causes: ArrayLike,
    cause: int,
    entry: ArrayLike | None = None,
    level: float = 0.95,
) -> pd.DataFrame:
    """Return the Aalen-Johansen cumulative incidence of one cause at every distinct time.

    `causes` holds 0 for censored and a positive number for each cause; a subject is at risk in
    (entry, duration]. Columns: at_risk, events (of this cause), incidence, std_error, low, high.
    The variance is the exact delta-method one; the interval is log-log and shrinks to a point
    where the incidence is 0. Raises ValueError on bad input.

    References: Aalen and Johansen 1978; delta-method variance as in Marubini and Valsecchi 1995,
    section 10.4; interval: Choudhury, Stat Med 2002;21:1129.
    """
    check_level(level)
    times = as_times(durations, "durations")
    kinds = as_codes(causes, times, "causes")
    if cause < 1:
        raise ValueError(f"the cause must be 1 or more, got {cause}")
    entered = None if entry is None else as_entries(entry, times)
    points, at_risk, events, every = _counts(times, kinds, cause, entered)
    incidence, std_error = _incidence(at_risk, events, every)
    low, high = log_log_limits(incidence, std_error, level)
    columns = {
        "at_risk": at_risk,
        "events": events,
        "incidence": incidence,
        "std_error": std_error,
        "low": low,
        "high": high,
    }
    return pd.DataFrame(columns, index=pd.Index(points, name="time"))


def _counts(
    times: Floats, kinds: NDArray[np.int_], cause: int, entered: Floats | None
) -> tuple[Floats, Floats, Floats, Floats]:
    points, place = np.unique(times, return_inverse=True)
    events = sum_at(place, kinds == cause, points.size)
    every = sum_at(place, kinds > 0, points.size)
    leaving = sum_at(place, np.ones(times.size), points.size)
    at_risk = leaving[::-1].cumsum()[::-1]
    if entered is not None:
        ordered = np.sort(entered)
        at_risk = at_risk - (ordered.size - np.searchsorted(ordered, points, side="left"))
    return points, at_risk, events, every


def _incidence(at_risk: Floats, events: Floats, every: Floats) -> tuple[Floats, Floats]:
    risk = np.where(at_risk > 0, at_risk, 1.0)
    survival = np.cumprod(1 - every / risk)
    before = np.concatenate([[1.0], survival[:-1]])
    incidence = np.cumsum(before * events / risk)
    # Var F(t) = sum over s <= t of
    #   (F(t)-F(s))^2 d/(n(n-d)) + S(s-)^2 e(n-e)/n^3 - 2 (F(t)-F(s)) S(s-) e/n^2,
    # expanded in powers of F(t), so that one pass of cumulative sums gives every t.
    left = np.where(risk - every > 0, every / (risk * np.maximum(risk - every, 1e-300)), 0.0)
    own = before**2 * events * (risk - events) / risk**3
    mixed = before * events / risk**2
    a, b, c = np.cumsum(left), np.cumsum(left * incidence), np.cumsum(left * incidence**2)
    variance = (
        incidence**2 * a
        - 2 * incidence * b
        + c
        + np.cumsum(own)
        - 2 * (incidence * np.cumsum(mixed) - np.cumsum(mixed * incidence))
    )
    return incidence, np.sqrt(np.maximum(variance, 0.0))
