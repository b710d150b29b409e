"""How much a comparison of two shares would tell at some numbers, before anybody is counted.

Everything is summed over all outcomes of two binomial counts: no simulation and no normal
approximation of the counts. What is summed is Newcombe's interval, which the pages show.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import binom

from analytics.estimators.inputs import Floats, check_level
from analytics.estimators.results import Estimate

# Outcomes that are rarer than this together are left out of a sum.
RARE = 1e-10
STEP = 0.001


def expected_interval(p1: float, n1: int, p2: float, n2: int, level: float = 0.95) -> Estimate:
    """Return the difference of two shares with the expected ends of Newcombe's interval of it.

    Raises ValueError unless the shares lie between 0 and 1 and the numbers are whole and above 0.

    References: Newcombe, Stat Med 1998;17:873-890, method 10, over all outcomes.
    """
    weight, low, high = _all_outcomes(p1, n1, p2, n2, level)
    return Estimate(p1 - p2, float((weight * low).sum()), float((weight * high).sum()))


def expected_width(p1: float, n1: int, p2: float, n2: int, level: float = 0.95) -> float:
    """Return the expected width of Newcombe's interval of the difference of two shares.

    Raises ValueError like `expected_interval`.
    """
    interval = expected_interval(p1, n1, p2, n2, level)
    return interval.high - interval.low


def power(p1: float, n1: int, p2: float, n2: int, level: float = 0.95) -> float:
    """Return how probable it is that the interval of the difference leaves out 0, on either side.

    For equal shares this is the rate of false alarms.

    Raises ValueError like `expected_interval`.

    References: Newcombe, Stat Med 1998;17:873-890, method 10, over all outcomes.
    """
    weight, low, high = _all_outcomes(p1, n1, p2, n2, level)
    return float(weight[(low > 0) | (high < 0)].sum())


def detectable(
    base: float, n1: int, n2: int, *, wanted: float = 0.8, level: float = 0.95
) -> tuple[float | None, float | None]:
    """Return the nearest shares below and above a base that would be told from it with some power.

    The base is the share of the second group, of n2. A side is None where no share has that power.
    Searched in steps of a thousandth, which is as fine as a rate is quoted.

    Raises ValueError like `expected_interval`, and unless the power wanted lies between 0 and 1.
    """
    if not 0 < wanted < 1:
        raise ValueError(f"the power must lie between 0 and 1, got {wanted}")
    _check(base, n1, base, n2)

    def enough(share: float) -> bool:
        return power(share, n1, base, n2, level) >= wanted

    below, above = int(base / STEP + 1e-9), int((1 - base) / STEP + 1e-9)
    down = _first(lambda steps: enough(max(base - steps * STEP, 0.0)), below)
    up = _first(lambda steps: enough(min(base + steps * STEP, 1.0)), above)
    return (
        None if down is None else max(base - down * STEP, 0.0),
        None if up is None else min(base + up * STEP, 1.0),
    )


def _first(holds: Callable[[int], bool], most: int) -> int | None:
    """Return the smallest number of steps at which something holds, if it does at the most."""
    if most < 1 or not holds(most):
        return None
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def _all_outcomes(
    p1: float, n1: int, p2: float, n2: int, level: float
) -> tuple[Floats, Floats, Floats]:
    """Return the probability of every pair of counts, and the ends of its interval."""
    _check(p1, n1, p2, n2)
    check_level(level)
    one, two = _likely(p1, n1), _likely(p2, n2)
    weight = np.outer(binom.pmf(one, n1, p1), binom.pmf(two, n2, p2))
    share1, low1, high1 = (part[:, None] for part in _wilson(one, n1, level))
    share2, low2, high2 = (part[None, :] for part in _wilson(two, n2, level))
    difference = share1 - share2
    low = difference - np.hypot(share1 - low1, high2 - share2)
    high = difference + np.hypot(high1 - share1, share2 - low2)
    return weight / weight.sum(), low, high


def _likely(share: float, number: int) -> NDArray[np.int64]:
    ends = binom.ppf([RARE, 1 - RARE], number, share)
    return np.arange(max(int(ends[0]) - 1, 0), min(int(ends[1]) + 1, number) + 1)


def _wilson(events: NDArray[np.int64], total: int, level: float) -> tuple[Floats, Floats, Floats]:
    """Return Wilson's intervals of many counts of one total; `proportions.wilson` does one."""
    z = float(ndtri(0.5 + level / 2))
    share = events / total
    centre = events + z * z / 2
    half = z * np.sqrt(events * (1 - share) + z * z / 4)
    low = np.where(events == 0, 0.0, (centre - half) / (total + z * z))
    high = np.where(events == total, 1.0, (centre + half) / (total + z * z))
    return share, low, high


def _check(p1: float, n1: int, p2: float, n2: int) -> None:
    for share in (p1, p2):
        if not 0 <= share <= 1:
            raise ValueError(f"a share must lie between 0 and 1, got {share}")
    for number in (n1, n2):
        if number < 1 or int(number) != number:
            raise ValueError(f"a group must have a whole number of at least 1, got {number}")
