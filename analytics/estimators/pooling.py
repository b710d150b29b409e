"""Shares of several studies pooled by a random-effects model."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from numpy.typing import ArrayLike
from scipy.optimize import brentq, minimize_scalar
from scipy.special import expit, gammaln, log_expit, logit, logsumexp
from scipy.stats import chi2
from scipy.stats import t as student

from analytics.estimators.inputs import Floats, as_numbers, as_times, check_level
from analytics.estimators.proportions import clopper_pearson

POINTS = 40
# The standard deviation between studies, on the logit scale, is sought up to here: at 6 the
# studies' shares lie anywhere between nought and one.
WIDEST = 6.0
# A limit so far from the estimate, in logits, is no limit.
REACH = 32.0


@dataclass(frozen=True)
class PooledShare:
    """A share common to studies, its interval, and where the share of a further study would lie.

    `tau` is the standard deviation of the studies' shares on the logit scale and `std_error` that
    of the pooled logit; both are NaN where no study, or every patient, had the event. The
    prediction limits are NaN where there are fewer than three studies. `method` says in words how
    the interval was made.
    """

    estimate: float
    low: float
    high: float
    tau: float
    prediction_low: float
    prediction_high: float
    std_error: float
    log_likelihood: float
    studies: int
    method: str


@dataclass(frozen=True)
class PooledEffect:
    """A mean effect with its interval, the variance between studies, and the test that it is 0.

    `q` is Cochran's statistic, `i2` the share of the variance that lies between studies.
    """

    estimate: float
    low: float
    high: float
    std_error: float
    tau2: float
    q: float
    p_value: float
    i2: float


def logit_normal(events: ArrayLike, totals: ArrayLike, level: float = 0.95) -> PooledShare:
    """Return the share of studies pooled by the binomial-normal model, by maximum likelihood.

    Each study's count is binomial and the logits of the studies' shares are normal, so that small
    studies and those without an event are taken as they are. The likelihood is integrated by
    Gauss-Hermite quadrature about each study's own mode. The interval is the profile-likelihood
    one, which allows for not knowing the deviation between studies; the prediction interval has t
    on k - 2 degrees of freedom for k studies. The estimate is the share at the mean logit, which is the median of
    the studies' shares, not their mean. Raises ValueError unless there are two studies or more with
    0 <= events <= total and total > 0, and 0 < level < 1.

    References: Stijnen, Hamza and Ozdemir, Stat Med 2010;29:3046 (model); Higgins, Thompson and
    Spiegelhalter, J R Stat Soc A 2009;172:137 (prediction interval).
    """
    check_level(level)
    counts, sizes = _studies(events, totals)
    if counts.sum() in (0, sizes.sum()):
        return _without_variation(counts, sizes, level)
    mean, tau, top = _fit(counts, sizes)
    std_error = _std_error(counts, sizes, mean, tau)
    low, high = _profile_limits(counts, sizes, mean, top - float(chi2.ppf(level, 1)) / 2)
    prediction = _prediction(mean, math.hypot(tau, std_error), level, counts.size - 2)
    return PooledShare(
        float(expit(mean)),
        low,
        high,
        tau,
        *prediction,
        std_error,
        top,
        counts.size,
        "binomial-normal model by maximum likelihood; profile-likelihood limits",
    )


def dersimonian_laird(
    effects: ArrayLike, variances: ArrayLike, level: float = 0.95
) -> PooledEffect:
    """Return the mean of effects with known variances by the moments of DerSimonian and Laird.

    Raises ValueError unless there are two effects or more, each with a variance above 0, and
    0 < level < 1.

    References: DerSimonian and Laird, Control Clin Trials 1986;7:177; I2 as Higgins and Thompson
    2002.
    """
    check_level(level)
    values, spread = as_numbers(effects, "effects"), as_numbers(variances, "variances")
    if values.ndim != 1 or values.size < 2 or values.shape != spread.shape:
        raise ValueError(
            "effects and variances must have one value for each of two studies or more"
        )
    if not np.isfinite(values).all() or not ((spread > 0) & np.isfinite(spread)).all():
        raise ValueError("effects must be finite and variances above 0")
    weight, free = 1 / spread, values.size - 1
    q = float((weight * (values - np.average(values, weights=weight)) ** 2).sum())
    tau2 = max(0.0, (q - free) / float(weight.sum() - (weight**2).sum() / weight.sum()))
    weight = 1 / (spread + tau2)
    mean, std_error = float(np.average(values, weights=weight)), float(weight.sum() ** -0.5)
    half = std_error * math.sqrt(float(chi2.ppf(level, 1)))
    i2 = max(0.0, 1 - free / q) if q > 0 else 0.0
    return PooledEffect(
        mean, mean - half, mean + half, std_error, tau2, q, float(chi2.sf(q, free)), i2
    )


def log_likelihood(events: Floats, totals: Floats, mean: float, tau: float) -> float:
    """Return the log-likelihood of the binomial-normal model at a mean logit and its deviation."""
    chosen = gammaln(totals + 1) - gammaln(events + 1) - gammaln(totals - events + 1)
    if tau < 1e-9:
        return float((chosen + _binomial(events, totals, np.full(events.shape, mean))).sum())
    mode, width = _modes(events, totals, mean, tau)
    points, weights = hermegauss(POINTS)
    at = mode[:, None] + width[:, None] * points
    inner = _binomial(events[:, None], totals[:, None], mean + tau * at) - (at**2 - points**2) / 2
    # The factor 1/sqrt(2 pi) of the normal density is in the weights of the quadrature.
    each = logsumexp(inner, axis=1, b=weights / math.sqrt(2 * math.pi)) + np.log(width)
    return float((chosen + each).sum())


def _binomial(events: Floats, totals: Floats, at: Floats) -> Floats:
    found: Floats = events * log_expit(at) + (totals - events) * log_expit(-at)
    return found


def _modes(events: Floats, totals: Floats, mean: float, tau: float) -> tuple[Floats, Floats]:
    """Return where each study's integrand is highest, and its width there (Newton's method)."""
    at = np.clip((logit((events + 0.5) / (totals + 1)) - mean) / tau, -8, 8)
    for _ in range(200):
        share = expit(mean + tau * at)
        slope = tau * (events - totals * share) - at
        step = slope / (1 + tau**2 * totals * share * (1 - share))
        at = at + np.clip(step, -1, 1)
        if np.abs(step).max() < 1e-10:
            break
    share = expit(mean + tau * at)
    return at, (1 + tau**2 * totals * share * (1 - share)) ** -0.5


def _fit(counts: Floats, sizes: Floats) -> tuple[float, float, float]:
    """Return the mean logit, the deviation and the log-likelihood at their maximum."""
    crude = float(logit(counts.sum() / sizes.sum()))
    found = minimize_scalar(
        lambda mean: -_best_tau(counts, sizes, mean)[1],
        bounds=(crude - 2 * WIDEST, crude + 2 * WIDEST),
        method="bounded",
        options={"xatol": 1e-8},
    )
    tau, top = _best_tau(counts, sizes, float(found.x))
    return float(found.x), tau, top


def _best_tau(counts: Floats, sizes: Floats, mean: float) -> tuple[float, float]:
    """Return the deviation that fits a mean logit best, and the log-likelihood there."""
    found = minimize_scalar(
        lambda tau: -log_likelihood(counts, sizes, mean, tau),
        bounds=(0.0, WIDEST),
        method="bounded",
        options={"xatol": 1e-8},
    )
    # A bounded search never tries its very end, where no variance is left between studies.
    none = log_likelihood(counts, sizes, mean, 0.0)
    return (0.0, none) if none >= -found.fun else (float(found.x), -float(found.fun))


def _profile_limits(
    counts: Floats, sizes: Floats, mean: float, height: float
) -> tuple[float, float]:
    """Return the shares at which the log-likelihood, best over the deviation, falls to a height."""

    def above(at: float) -> float:
        return _best_tau(counts, sizes, at)[1] - height

    limits = []
    for side in (-1, 1):
        step = 0.5
        while above(mean + side * step) > 0 and step < REACH:
            step *= 2
        if step >= REACH:
            limits.append(float(side > 0))
            continue
        limits.append(float(expit(brentq(above, mean, mean + side * step, xtol=1e-8))))
    return limits[0], limits[1]


def _std_error(counts: Floats, sizes: Floats, mean: float, tau: float) -> float:
    """Return the standard error of the mean logit from the observed information of both."""

    def at(up: float, wide: float) -> float:
        return log_likelihood(counts, sizes, mean + up, tau + wide)

    step = 1e-3
    centre = at(0, 0)
    of_mean = (2 * centre - at(step, 0) - at(-step, 0)) / step**2
    if tau <= 2 * step:
        return float(of_mean**-0.5)
    of_tau = (2 * centre - at(0, step) - at(0, -step)) / step**2
    both = (at(step, step) - at(step, -step) - at(-step, step) + at(-step, -step)) / (4 * step**2)
    return float((of_mean - both**2 / of_tau) ** -0.5)


def _prediction(mean: float, spread: float, level: float, free: int) -> tuple[float, float]:
    if free < 1:
        return math.nan, math.nan
    half = float(student.ppf(0.5 + level / 2, free)) * spread
    return float(expit(mean - half)), float(expit(mean + half))


def _without_variation(counts: Floats, sizes: Floats, level: float) -> PooledShare:
    one = clopper_pearson(int(counts.sum()), int(sizes.sum()), level)
    return PooledShare(
        one.estimate,
        one.low,
        one.high,
        math.nan,
        math.nan,
        math.nan,
        math.nan,
        0.0,
        counts.size,
        "no study differs: exact binomial limits of the sums, as if all shared one share",
    )


def _studies(events: ArrayLike, totals: ArrayLike) -> tuple[Floats, Floats]:
    counts, sizes = as_times(events, "events"), as_times(totals, "totals")
    if counts.shape != sizes.shape or counts.size < 2:
        raise ValueError("events and totals must have one value for each of at least two studies")
    if (sizes < 1).any() or (sizes != np.floor(sizes)).any():
        raise ValueError("totals must be whole numbers above 0")
    if (counts > sizes).any() or (counts != np.floor(counts)).any():
        raise ValueError("events must be whole numbers, none above its total")
    return counts, sizes
