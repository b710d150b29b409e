"""Proportions and their intervals."""

import math
from numbers import Real

from scipy.optimize import brentq
from scipy.special import betaincinv, ndtri

from analytics.estimators.inputs import check_level
from analytics.estimators.results import Bounds, Estimate


def wilson(events: int, total: int, level: float = 0.95) -> Estimate:
    """Return a proportion with Wilson's score interval, without continuity correction.

    Raises ValueError unless events and total are counts with 0 <= events <= total and total > 0,
    and 0 < level < 1.

    References: Newcombe, Stat Med 1998;17:857-872, method 3.
    """
    _check(events, total, level)
    z = float(ndtri(0.5 + level / 2))
    share = events / total
    centre = events + z * z / 2
    half = z * math.sqrt(events * (1 - share) + z * z / 4)
    denominator = total + z * z
    low = 0.0 if events == 0 else (centre - half) / denominator
    high = 1.0 if events == total else (centre + half) / denominator
    return Estimate(share, low, high)


def clopper_pearson(events: int, total: int, level: float = 0.95) -> Estimate:
    """Return a proportion with the exact interval of Clopper and Pearson.

    Raises ValueError like `wilson`.

    References: Clopper and Pearson, Biometrika 1934;26:404; Newcombe 1998, method 5.
    """
    _check(events, total, level)
    tail = (1 - level) / 2
    low = 0.0 if events == 0 else float(betaincinv(events, total - events + 1, tail))
    high = 1.0 if events == total else float(betaincinv(events + 1, total - events, 1 - tail))
    return Estimate(events / total, low, high)


def newcombe_difference(e1: int, n1: int, e2: int, n2: int, level: float = 0.95) -> Estimate:
    """Return the difference of two independent proportions with Newcombe's hybrid interval.

    Raises ValueError like `wilson`.

    References: Newcombe, Stat Med 1998;17:873-890, method 10.
    """
    one, two = wilson(e1, n1, level), wilson(e2, n2, level)
    difference = one.estimate - two.estimate
    below = math.hypot(one.estimate - one.low, two.high - two.estimate)
    above = math.hypot(one.high - one.estimate, two.estimate - two.low)
    return Estimate(difference, difference - below, difference + above)


def risk_ratio(e1: int, n1: int, e2: int, n2: int, level: float = 0.95) -> Estimate:
    """Return the ratio of two independent proportions with Koopman's score interval.

    It behaves where there are no events: none in the first group give the ratio 0 and a finite
    upper limit, none in the second an infinite ratio and a finite lower limit. None in either
    say nothing: the ratio is NaN and the limits are 0 and infinity. Raises ValueError like
    `wilson`.

    References: Koopman, Biometrics 1984;40:513-517; the constrained estimate as in Miettinen and
    Nurminen, Stat Med 1985;4:213-226.
    """
    _check(e1, n1, level)
    _check(e2, n2, level)
    z = float(ndtri(0.5 + level / 2))
    ratio = (e1 / n1) / (e2 / n2) if e2 > 0 else math.inf if e1 > 0 else math.nan
    # The score falls from infinity as the ratio grows, and is 0 at the estimate.
    start = ratio if math.isfinite(ratio) and ratio > 0 else 1.0
    low = 0.0 if e1 == 0 else _where_score_is(z, (e1, n1, e2, n2), start)
    high = math.inf if e2 == 0 else _where_score_is(-z, (e1, n1, e2, n2), start)
    return Estimate(ratio, low, high)


def missing_bounds(events: int, evaluable: int, eligible: int) -> Bounds:
    """Return the proportion if none, and if all, of those who could not be judged had the event.

    Raises ValueError unless these are counts with 0 <= events <= evaluable <= eligible and
    eligible > 0.
    """
    _check_counts(events=events, evaluable=evaluable, eligible=eligible)
    if not 0 <= events <= evaluable <= eligible or eligible == 0:
        raise ValueError(
            f"need 0 <= events <= evaluable <= eligible and eligible > 0, "
            f"got {events}, {evaluable}, {eligible}"
        )
    return Bounds(events / eligible, (events + eligible - evaluable) / eligible)


def _where_score_is(wanted: float, counts: tuple[int, int, int, int], start: float) -> float:
    def gap(log_ratio: float) -> float:
        return _score(math.exp(log_ratio), counts) - wanted

    inner = outer = math.log(start)
    # From where the start lies, one of these widens until the wanted score is in between.
    while gap(inner) < 0:
        inner -= 1
    while gap(outer) > 0:
        outer += 1
    return math.exp(brentq(gap, inner, outer, xtol=1e-14, rtol=1e-14))


def _score(ratio: float, counts: tuple[int, int, int, int]) -> float:
    e1, n1, e2, n2 = counts
    a, b = ratio * (n1 + n2), ratio * n1 + e1 + n2 + ratio * e2
    two = min(1.0, 2 * (e1 + e2) / (b + math.sqrt(max(b * b - 4 * a * (e1 + e2), 0.0))))
    one = min(1.0, ratio * two)
    variance = one * (1 - one) / n1 + ratio**2 * two * (1 - two) / n2
    distance = e1 / n1 - ratio * e2 / n2
    if variance > 0:
        return distance / math.sqrt(variance)
    return math.copysign(math.inf, distance) if distance else 0.0


def _check(events: int, total: int, level: float) -> None:
    _check_counts(events=events, total=total)
    if total <= 0:
        raise ValueError(f"the total must be above 0, got {total}")
    if not 0 <= events <= total:
        raise ValueError(f"events must lie between 0 and {total}, got {events}")
    check_level(level)


def _check_counts(**counts: object) -> None:
    for name, count in counts.items():
        if not isinstance(count, Real) or not float(count).is_integer():
            raise ValueError(f"{name} must be a whole number, got {count}")
