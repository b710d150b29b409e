"""How far apart two groups are in what they were, in standard deviations."""

import math

import numpy as np
from numpy.typing import ArrayLike

from analytics.estimators.inputs import Floats, as_numbers


def difference_of_means(one: ArrayLike, two: ArrayLike) -> float | None:
    """Return the difference of two means over the root of the mean of the two variances.

    Values that are missing (NaN) are left out. None where a group has fewer than two values. Groups
    that do not vary are 0 apart when equal and infinitely far when not.

    Raises ValueError when a value is no number.

    References: Austin, Stat Med 2009;28:3083-3107, section 2.
    """
    groups = [_known(values, name) for values, name in ((one, "one"), (two, "two"))]
    if min(group.size for group in groups) < 2:
        return None
    means = [float(group.mean()) for group in groups]
    variances = [float(group.var(ddof=1)) for group in groups]
    return _standardised(means[0] - means[1], sum(variances) / 2)


def difference_of_shares(one: float, two: float) -> float:
    """Return the difference of two shares over the root of the mean of their variances.

    Raises ValueError unless both lie between 0 and 1.

    References: Austin, Stat Med 2009;28:3083-3107, section 2.
    """
    for share in (one, two):
        if not 0 <= share <= 1:
            raise ValueError(f"a share must lie between 0 and 1, got {share}")
    return _standardised(one - two, (one * (1 - one) + two * (1 - two)) / 2)


def _known(values: ArrayLike, name: str) -> Floats:
    numbers = as_numbers(values, name)
    return numbers[~np.isnan(numbers)]


def _standardised(difference: float, variance: float) -> float:
    if variance > 0:
        return difference / math.sqrt(variance)
    return math.copysign(math.inf, difference) if difference else 0.0
