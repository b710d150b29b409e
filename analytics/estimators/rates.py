"""Rates by person-time, and their standardisation."""

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaincinv

from analytics.estimators.inputs import Floats, as_numbers, check_level
from analytics.estimators.proportions import clopper_pearson
from analytics.estimators.results import Estimate


def poisson_rate(events: int, person_time: float, level: float = 0.95) -> Estimate:
    """Return events per unit of person-time with the exact Poisson interval.

    With expected events in place of the person-time it is the standardised ratio of observed to
    expected. Raises ValueError unless events is a count, person_time is above 0 and
    0 < level < 1.

    References: Garwood, Biometrika 1936;28:437-442.
    """
    check_level(level)
    _check_events(events)
    _check_person_time(person_time)
    tail = (1 - level) / 2
    low = 0.0 if events == 0 else float(gammaincinv(events, tail))
    high = float(gammaincinv(events + 1, 1 - tail))
    return Estimate(events / person_time, low / person_time, high / person_time)


def rate_ratio(e1: int, t1: float, e2: int, t2: float, level: float = 0.95) -> Estimate:
    """Return the ratio of two rates with its exact conditional interval.

    Given all events, those of the first group are binomial; the interval is that of Clopper and
    Pearson, turned into a ratio. The ratio is infinite where only the first group has events.
    Raises ValueError like `poisson_rate`, and where neither group has an event.

    References: Przyborowski and Wilenski, Biometrika 1940;31:313-323.
    """
    for events, person_time in ((e1, t1), (e2, t2)):
        _check_events(events)
        _check_person_time(person_time)
    if e1 + e2 == 0:
        raise ValueError("without an event in either group there is no ratio")
    share = clopper_pearson(e1, e1 + e2, level)
    estimate, low, high = (
        (t2 / t1) * part / (1 - part) if part < 1 else math.inf
        for part in (share.estimate, share.low, share.high)
    )
    return Estimate(estimate, low, high)


def direct_standardise(
    events: ArrayLike, person_time_or_n: ArrayLike, weights: ArrayLike, level: float = 0.95
) -> Estimate:
    """Return the rate that the standard population would have, with its gamma interval.

    One value of each list for a stratum; `weights` are the sizes of the standard population's
    strata, of which only the proportions matter. The interval keeps its level where events are
    few, and has an upper limit where there are none. Raises ValueError on unequal lengths, on
    events that are no counts, on person-time or weights that are not above 0.

    References: Fay and Feuer, Stat Med 1997;16:791-801.
    """
    check_level(level)
    counts, sizes, standard = _strata(events, person_time_or_n, weights)
    share = standard / standard.sum() / sizes
    rate = float(share @ counts)
    variance = float(share**2 @ counts)
    largest = float(share.max())
    tail = (1 - level) / 2
    low = 0.0 if rate == 0 else _gamma(rate, variance, tail)
    return Estimate(rate, low, _gamma(rate + largest, variance + largest**2, 1 - tail))


def _gamma(mean: float, variance: float, tail: float) -> float:
    return variance / mean * float(gammaincinv(mean**2 / variance, tail))


def _strata(
    events: ArrayLike, sizes: ArrayLike, weights: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    counts = as_numbers(events, "events")
    at_risk = as_numbers(sizes, "person_time_or_n")
    standard = as_numbers(weights, "weights")
    if counts.ndim != 1 or counts.size == 0:
        raise ValueError("events must be a list with at least one stratum")
    if not counts.shape == at_risk.shape == standard.shape:
        raise ValueError(
            f"need one value a stratum, got {counts.size} events, {at_risk.size} sizes and "
            f"{standard.size} weights"
        )
    if not np.isfinite(counts).all() or (counts < 0).any() or (counts != np.floor(counts)).any():
        raise ValueError("events must hold whole numbers from 0 on, and none missing")
    if not (np.isfinite(at_risk).all() and (at_risk > 0).all()):
        raise ValueError("person_time_or_n must be above 0 in every stratum")
    if not (np.isfinite(standard).all() and (standard > 0).all()):
        raise ValueError("weights must be above 0 in every stratum")
    return counts, at_risk, standard


def _check_events(events: object) -> None:
    number = as_numbers(events, "events")  # type: ignore[arg-type]  # any value may come
    if number.ndim != 0 or not np.isfinite(number) or number < 0 or number != np.floor(number):
        raise ValueError(f"events must be a whole number from 0 on, got {events}")


def _check_person_time(person_time: object) -> None:
    number = as_numbers(person_time, "person_time")  # type: ignore[arg-type]  # any value may come
    if number.ndim != 0 or not np.isfinite(number) or number <= 0:
        raise ValueError(f"the person-time must be above 0, got {person_time}")
