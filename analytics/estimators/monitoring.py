"""Funnel limits, over-dispersion between units, and the CUSUM of a run of cases."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri
from scipy.stats import binom, poisson

from analytics.estimators.inputs import Floats, as_codes, as_numbers, as_times, check_level
from analytics.estimators.run_lengths import (
    Steps,
    average_run_length,
    bernoulli_steps,
    log_likelihood_weights,
)

LEVELS = (0.95, 0.998)
# No limit is sought beyond so many times the first guess, and no run so long that rounding rules it.
REACH = 2**13
LONGEST = 1e8


@dataclass(frozen=True)
class Overdispersion:
    """How much more units differ than chance alone would have them.

    `z` holds each unit's distance from the target in its own standard errors; `phi` is the mean of
    their squares (1 by chance alone) and `tau2` the variance of the units' true shares, each with
    and without pulling in the outermost units.
    """

    target: float
    z: Floats
    phi: float
    phi_winsorised: float
    tau2: float
    tau2_winsorised: float


@dataclass(frozen=True)
class Cusum:
    """The sum after each case, and the 0-based positions of the cases at which it signalled."""

    path: Floats
    signals: NDArray[np.intp]
    limit: float


def funnel_limits(n: ArrayLike, target: float, levels: tuple[float, ...] = LEVELS) -> pd.DataFrame:
    """Return the limits within which the share of a unit with n cases falls by chance alone.

    The limits are exact binomial ones, interpolated between counts so that they run smoothly; what
    would fall below 0 or above 1 is 0 or 1. One row for each n, in the order given; the columns are
    low and high for each level in per cent, such as low_95 and high_99.8. Raises ValueError unless
    every n is a whole number above 0 and target and levels lie between 0 and 1.

    References: Spiegelhalter, Stat Med 2005;24:1185, appendix A.1.1.
    """
    sizes = _sizes(n, "n")
    _check_share(target, "target")
    return _by_level(
        sizes, levels, lambda tail: np.clip(_binomial_limit(sizes, target, tail), 0, 1)
    )


def ratio_limits(expected: ArrayLike, levels: tuple[float, ...] = LEVELS) -> pd.DataFrame:
    """Return the limits of observed over expected counts by chance alone (exact Poisson quantiles).

    Rows and columns as in `funnel_limits`. Raises ValueError unless every expected count is above 0.

    References: Spiegelhalter, Stat Med 2005;24:1185, section 3.
    """
    counts = np.atleast_1d(as_numbers(expected, "expected"))
    if counts.ndim != 1 or counts.size == 0 or not (counts > 0).all() or np.isinf(counts).any():
        raise ValueError("expected must hold counts above 0, at least one")
    return _by_level(counts, levels, lambda tail: poisson.ppf(tail, counts) / counts)


def overdispersed_limits(
    n: ArrayLike, target: float, tau2: float, levels: tuple[float, ...] = LEVELS
) -> pd.DataFrame:
    """Return limits that allow for a variance of `tau2` between the true shares of the units.

    By the normal approximation, cut at 0 and 1; rows, columns and errors as in `funnel_limits`.

    References: Spiegelhalter, Qual Saf Health Care 2005;14:347 (additive model).
    """
    sizes = _sizes(n, "n")
    _check_share(target, "target")
    if not 0 <= tau2 < np.inf:
        raise ValueError(f"tau2 must be 0 or more, got {tau2}")
    spread = np.sqrt(target * (1 - target) / sizes + tau2)
    return _by_level(sizes, levels, lambda tail: np.clip(target + ndtri(tail) * spread, 0, 1))


def overdispersion(
    events: ArrayLike, totals: ArrayLike, target: float | None = None, winsorised: float = 0.1
) -> Overdispersion:
    """Return how much more the shares of units differ than by chance alone.

    `target` is the share common to all, if not given the pooled one; `winsorised` is the part at
    either end that is pulled in to its quantile. Raises ValueError unless there are two units or
    more with 0 <= events <= total and total > 0, and the target lies between 0 and 1.

    References: Spiegelhalter, Qual Saf Health Care 2005;14:347; tau2 as DerSimonian and Laird 1986.
    """
    counts, sizes = as_times(events, "events"), _sizes(totals, "totals")
    if counts.shape != sizes.shape or counts.size < 2:
        raise ValueError("events and totals must have one value for each of at least two units")
    if (counts > sizes).any() or (counts != np.floor(counts)).any():
        raise ValueError("events must be whole numbers, none above its total")
    if not 0 <= winsorised < 0.5:
        raise ValueError(f"winsorised must be at least 0 and below one half, got {winsorised}")
    share = float(counts.sum() / sizes.sum()) if target is None else target
    _check_share(share, "target")
    variance = share * (1 - share) / sizes
    z = (counts / sizes - share) / np.sqrt(variance)
    pulled = np.clip(z, *np.quantile(z, [winsorised, 1 - winsorised]))
    phi, phi_winsorised = float(np.mean(z**2)), float(np.mean(pulled**2))
    tau2, tau2_winsorised = (_tau2(value, variance) for value in (phi, phi_winsorised))
    return Overdispersion(share, z, phi, phi_winsorised, tau2, tau2_winsorised)


def cusum(outcomes: ArrayLike, expected: ArrayLike, odds_ratio: float, limit: float) -> Cusum:
    """Return the risk-adjusted log-likelihood-ratio CUSUM of a run of cases.

    `outcomes` holds 1 for an event and 0 for none, in time order; `expected` one risk for all or
    one for each case. An odds ratio above 1 watches for worse, below 1 for better; the sum rises
    towards the limit in either case, signals when it reaches it, and starts again from 0. Raises
    ValueError on bad input.

    References: Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441.
    """
    times = as_times(outcomes, "outcomes")
    happened = as_codes(outcomes, times, "outcomes")
    if (happened > 1).any():
        raise ValueError("outcomes must hold only 0 and 1")
    risks = _risks(expected)
    if risks.size not in (1, happened.size):
        raise ValueError(f"outcomes has {happened.size} values, expected has {risks.size}")
    _check_odds(odds_ratio)
    _check_limit(limit)
    without, with_event = log_likelihood_weights(risks, odds_ratio)
    path, signals = accumulate(np.where(happened == 1, with_event, without), limit)
    return Cusum(path, signals, limit)


def accumulate(weights: Floats, limit: float) -> tuple[Floats, NDArray[np.intp]]:
    """Return the sum that never falls below 0, and where it reached the limit and began again."""
    path, signals, at = np.empty(weights.size), [], 0.0
    for place, weight in enumerate(weights.tolist()):
        at = max(0.0, at + weight)
        path[place] = at
        if at >= limit:
            signals.append(place)
            at = 0.0
    return path, np.array(signals, dtype=np.intp)


def run_length(
    limit: float,
    expected: ArrayLike,
    odds_ratio: float,
    true_odds_ratio: float = 1.0,
    states: int = 2000,
) -> float:
    """Return how many cases pass on average until a chart that starts at 0 signals.

    `expected` is one risk, or the risks of the cases, from which the next are taken to be drawn.
    The true odds are `true_odds_ratio` times the expected ones: 1 gives the run to a false alarm,
    `odds_ratio` the delay of a true one. Within about 0.3 per cent with the usual number of states.
    Raises ValueError on bad input.

    References: Brook and Evans, Biometrika 1972;59:539; Steiner et al., Biostatistics 2000;1:441.
    """
    risks = _risks(expected)
    _check_odds(odds_ratio)
    _check_limit(limit)
    if not 0 < true_odds_ratio < np.inf:
        raise ValueError(f"the true odds ratio must be above 0, got {true_odds_ratio}")
    steps = bernoulli_steps(risks, odds_ratio, true_odds_ratio)
    return average_run_length(steps, limit / states, states)


def limit_for_arl(expected: ArrayLike, odds_ratio: float, arl: float, states: int = 2000) -> float:
    """Return the lowest limit whose run to a false alarm is at least `arl` cases on average.

    `expected` and the Markov chain as in `run_length`; the limit is found to one part in about
    `states`. Raises ValueError on bad input, or when no limit within reach gives so long a run.
    """
    risks = _risks(expected)
    _check_odds(odds_ratio)
    if not 1 < arl <= LONGEST:
        raise ValueError(f"the run length must be above 1 and at most {LONGEST:g} cases, got {arl}")
    steps = bernoulli_steps(risks, odds_ratio, 1.0)
    rough = float(np.abs(steps.sizes).max()) / 64
    high = _fewest_states(steps, rough, arl, 1)
    grain = high * rough / states
    return grain * _fewest_states(steps, grain, arl, states)


def _fewest_states(steps: Steps, grain: float, arl: float, guess: int) -> int:
    """Return the fewest states with so long a run, which grows with their number, from a guess."""
    low, high = 0, guess
    while average_run_length(steps, grain, high) < arl:
        low, high = high, 2 * high
        if high > REACH * guess:
            raise ValueError(f"no limit within reach gives a run of {arl:g} cases")
    while high - low > 1:
        middle = (low + high) // 2
        if average_run_length(steps, grain, middle) < arl:
            low = middle
        else:
            high = middle
    return high


def _by_level(
    sizes: Floats, levels: tuple[float, ...], limit: Callable[[float], Floats]
) -> pd.DataFrame:
    columns: dict[str, Floats] = {}
    for level in levels:
        check_level(level)
        columns[f"low_{100 * level:g}"] = limit((1 - level) / 2)
        columns[f"high_{100 * level:g}"] = limit((1 + level) / 2)
    return pd.DataFrame(columns, index=pd.Index(sizes, name="n"))


def _binomial_limit(sizes: Floats, target: float, tail: float) -> Floats:
    count = binom.ppf(tail, sizes, target)
    beyond = binom.cdf(count, sizes, target) - tail
    limits: Floats = (count - beyond / binom.pmf(count, sizes, target)) / sizes
    return limits


def _tau2(phi: float, variance: Floats) -> float:
    weight = 1 / variance
    units = variance.size
    excess = units * phi - (units - 1)
    return max(0.0, float(excess / (weight.sum() - (weight**2).sum() / weight.sum())))


def _sizes(values: ArrayLike, name: str) -> Floats:
    sizes = as_times(np.atleast_1d(as_numbers(values, name)), name)
    if (sizes < 1).any() or (sizes != np.floor(sizes)).any():
        raise ValueError(f"{name} must hold whole numbers above 0")
    return sizes


def _risks(expected: ArrayLike) -> Floats:
    risks = np.atleast_1d(as_numbers(expected, "expected"))
    if risks.ndim != 1 or risks.size == 0 or not ((risks > 0) & (risks < 1)).all():
        raise ValueError("expected must hold risks above 0 and below 1, and none missing")
    return risks


def _check_share(value: float, name: str) -> None:
    if not 0 < value < 1:
        raise ValueError(f"the {name} must lie between 0 and 1, got {value:g}")


def _check_odds(odds_ratio: float) -> None:
    if not 0 < odds_ratio < np.inf or odds_ratio == 1:
        raise ValueError(f"the odds ratio must be above 0 and not 1, got {odds_ratio}")


def _check_limit(limit: float) -> None:
    if not 0 < limit < np.inf:
        raise ValueError(f"the limit must be above 0, got {limit}")
