"""The middle of a set of values, and of changes within people, without a shape assumed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import quantile_test

from analytics.estimators.inputs import Floats, as_numbers, check_level


@dataclass(frozen=True)
class Middle:
    """A median with its interval; an end is None where too few values allow none."""

    n: int
    median: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Spread:
    """The median with the quartiles of so many values."""

    n: int
    median: float
    lower: float
    upper: float


def spread(values: ArrayLike) -> Spread | None:
    """Return median and quartiles; None of no value. Missing values (NaN) are left out.

    Quartiles are interpolated between the ordered values (definition 7 of Hyndman and Fan, Am Stat
    1996;50:361), so that a value can be one that nobody had.

    Raises ValueError when a value is no number.
    """
    known = _known(values)
    if not known.size:
        return None
    lower, median, upper = (float(part) for part in np.quantile(known, [0.25, 0.5, 0.75]))
    return Spread(known.size, median, lower, upper)


def median_interval(values: ArrayLike, level: float = 0.95) -> Middle | None:
    """Return the median with the interval between two of the ordered values; None of no value.

    The interval is that of the sign test: the narrowest symmetric pair of ordered values that holds
    the median with at least the level, whatever the distribution. Ties make it wider than asked,
    never narrower. Below 6 values none has 95 %. Missing values (NaN) are left out.

    Raises ValueError when a value is no number, or for a level that does not lie between 0 and 1.

    References: Conover, Practical Nonparametric Statistics, 1999, section 3.2 (from memory).
    """
    check_level(level)
    known = _known(values)
    if not known.size:
        return None
    interval = quantile_test(known, q=0, p=0.5).confidence_interval(level)
    low, high = (None if np.isnan(end) else float(end) for end in (interval.low, interval.high))
    pair = (low, high) if low is not None and high is not None else (None, None)
    return Middle(known.size, float(np.median(known)), *pair)


def _known(values: ArrayLike) -> Floats:
    numbers = as_numbers(values, "values")
    return numbers[~np.isnan(numbers)]
