"""Regression for few events: Firth's logistic and Cox's proportional hazards."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.special import chdtrc, erfc, ndtri

from analytics.estimators.inputs import (
    Floats,
    as_entries,
    as_numbers,
    as_observed,
    as_times,
    check_level,
)
from analytics.estimators.likelihood import (
    Likelihood,
    Maximum,
    Point,
    along_profile,
    maximise,
    profile_limit,
    signed_root,
)
from analytics.estimators.partial_likelihood import PartialLikelihood, Ties
from analytics.estimators.penalised_likelihood import PenalisedLogistic

COLUMNS = ["coef", "std_error", "low", "high", "p_value"]
# A direction has a column in it if it is more of it than rounding.
IN_DIRECTION = 1e-4
# An intercept is read off this many spreads of a covariate away, and no farther.
FAR = 1e4


@dataclass(frozen=True)
class Regression:
    """Coefficients with what is to be known of how they were found.

    `frame` has a row for each coefficient: coef, std_error, low, high, p_value. `infinite` names
    those without a finite estimate, because the events are parted without overlap. `gap` is about
    how much log-likelihood is missing to the maximum. `note` says what is wrong, if anything.
    """

    frame: pd.DataFrame
    log_likelihood: float
    null_log_likelihood: float
    rows: int
    events: int
    converged: bool
    iterations: int
    gap: float
    infinite: tuple[str, ...]
    note: str


def logistic_firth(X: ArrayLike, y: ArrayLike, level: float = 0.95) -> Regression:
    """Fit a logistic regression with Firth's penalty; the intercept is the first row.

    X has a row for each subject and a column for each covariate, y is 1 for an event and 0 for
    none. All coefficients are finite, events parted without overlap or none at all included.
    Limits are those of the penalised profile likelihood, p values its likelihood ratio; the
    standard errors are from the information of the data with what the penalty adds to them. Both log-likelihoods are penalised, that of the null
    within the same model.

    Raises ValueError on missing values, unequal lengths, an outcome other than 0 and 1, covariates
    that determine one another, and fewer subjects than coefficients.

    References: Firth, Biometrika 1993;80:27-38; Heinze and Schemper, Stat Med 2002;21:2409-2419.
    """
    check_level(level)
    covariates, names = _covariates(X)
    outcome = as_numbers(y, "y")
    if outcome.shape != covariates.shape[:1]:
        raise ValueError(f"X has {len(covariates)} rows, y has {outcome.size} values")
    if not np.isin(outcome, (0, 1)).all():
        raise ValueError("y must hold only 0 and 1, and none missing")
    # About the means no covariate resembles the intercept, however far from 0 it lies.
    means = covariates.mean(axis=0)
    columns = np.column_stack([np.ones(len(covariates)), covariates - means])
    names = ["intercept", *names]
    _check_rank(columns, names)
    scale = np.abs(columns).max(axis=0)
    likelihood = PenalisedLogistic.of(columns / scale, outcome)
    top = maximise(likelihood, np.zeros(scale.size))
    null = maximise(likelihood, np.zeros(scale.size), np.arange(scale.size) == 0)
    z = float(ndtri(0.5 + level / 2))
    covariance = likelihood.covariance(top.at)
    std_error = np.sqrt(np.diag(covariance))
    rows = [
        _by_profile(likelihood, top, place, float(std_error[place]), z)
        for place in range(1, scale.size)
    ]
    # The intercept is where all covariates are 0, which may be far from anybody.
    back = np.concatenate([[1.0], -means / scale[1:]])
    far = bool(np.abs(back[1:]).max() > FAR)
    spread = math.sqrt(float(back @ covariance @ back))
    rows.insert(
        0, _far_off(top, back, spread, z) if far else _at_0(likelihood, top, back, spread, z)
    )
    frame = pd.DataFrame(rows, names, COLUMNS)
    frame[COLUMNS[:4]] = frame[COLUMNS[:4]].div(scale, axis=0)
    # The determinant is that of the columns as they came.
    rescaled = float(np.log(scale).sum())
    return Regression(
        frame,
        top.point.value + rescaled,
        null.point.value + rescaled,
        outcome.size,
        int(outcome.sum()),
        top.converged,
        top.iterations,
        top.gap,
        (),
        _told(top, far=far),
    )


def cox(
    durations: ArrayLike,
    observed: ArrayLike,
    X: ArrayLike,
    ties: Ties = "efron",
    entry: ArrayLike | None = None,
    level: float = 0.95,
) -> Regression:
    """Fit Cox's proportional hazards for subjects at risk in (entry, duration].

    X has a row for each subject and a column for each covariate. Limits and p values are Wald's.
    Where a covariate parts those with the event from all at risk, its coefficient has no finite
    estimate: it is given as infinite, named in `infinite`, and has the one limit and the p value
    of the profile likelihood; the others are those of the limit.

    Raises ValueError on missing values, unequal lengths, another way with ties, no event, and
    covariates that determine one another or say nothing of those at risk.

    References: Cox 1972; Efron 1977; Breslow 1974; Heinze and Schemper, Biometrics 2001;57:114-119
    (on infinite estimates).
    """
    check_level(level)
    if ties not in ("efron", "breslow"):
        raise ValueError(f"ties must be 'efron' or 'breslow', got {ties!r}")
    times = as_times(durations, "durations")
    happened = as_observed(observed, times).astype(bool)
    entered = None if entry is None else as_entries(entry, times)
    covariates, names = _covariates(X)
    if len(covariates) != times.size:
        raise ValueError(f"durations has {times.size} values, X has {len(covariates)} rows")
    if not happened.any():
        raise ValueError("without an event there is nothing to fit")
    centred = covariates - covariates.mean(axis=0)
    _check_rank(centred, names)
    scale = np.abs(centred).max(axis=0)
    likelihood = PartialLikelihood.of(times, happened, entered, centred / scale, ties)
    nothing = likelihood(np.zeros(scale.size))
    _check_information(nothing, names)
    top = maximise(likelihood, np.zeros(scale.size))
    z = float(ndtri(0.5 + level / 2))
    frame = pd.DataFrame(_by_wald(top, z), names, COLUMNS)
    parted = np.abs(top.flat).max(axis=1, initial=0.0) > IN_DIRECTION * np.abs(top.flat).max(
        initial=1e-300
    )
    for place in map(int, np.flatnonzero(parted)):
        frame.iloc[place, :] = _one_sided(likelihood, top, place, z)
    frame[COLUMNS[:4]] = frame[COLUMNS[:4]].div(scale, axis=0)
    infinite = tuple(name for name, one in zip(names, parted, strict=True) if one)
    return Regression(
        frame,
        top.point.value,
        nothing.value,
        times.size,
        int(happened.sum()),
        top.converged and not infinite,
        top.iterations,
        top.gap,
        infinite,
        _note(top, infinite),
    )


def _told(top: Maximum, *, far: bool) -> str:
    if not top.converged:
        return "The fit did not settle; read no coefficient from it."
    if far:
        return "The intercept lies far from every subject; its limits and p value are Wald's."
    return ""


def _far_off(top: Maximum, back: Floats, std_error: float, z: float) -> list[float]:
    """Return the row of an intercept so far away that floats lose its profile."""
    at = float(back @ top.at)
    p_value = float(erfc(abs(at / std_error) / math.sqrt(2)))
    return [at, std_error, at - z * std_error, at + z * std_error, p_value]


def _at_0(
    likelihood: Likelihood, top: Maximum, back: Floats, std_error: float, z: float
) -> list[float]:
    """Return the row of the intercept, by its own profile."""
    mine = _Intercept(likelihood, back)
    at = np.concatenate([[back @ top.at], top.at[1:]])
    unit = mine(np.zeros(at.size)).information
    return _by_profile(mine, replace(top, at=at, point=mine(at), unit=unit), 0, std_error, z)


@dataclass(frozen=True)
class _Intercept:
    """A likelihood about the means, with the intercept at 0 in the place of that at the means.

    `back` gives that intercept from the coefficients about the means.
    """

    likelihood: Likelihood
    back: Floats

    def __call__(self, coefficients: Floats) -> Point:
        """Return the likelihood where the first coefficient is the intercept at 0."""
        point = self.likelihood(self._about_means(coefficients))
        turn = np.eye(coefficients.size)
        turn[0, 1:] = -self.back[1:]
        return Point(point.value, turn.T @ point.gradient, turn.T @ point.information @ turn)

    def _about_means(self, coefficients: Floats) -> Floats:
        first = coefficients[0] - self.back[1:] @ coefficients[1:]
        return np.concatenate([[first], coefficients[1:]])


def _note(top: Maximum, infinite: Sequence[str]) -> str:
    if not top.converged:
        return "The fit did not settle; read no coefficient from it."
    if infinite:
        return (
            f"No finite estimate for {', '.join(infinite)}: those with the event and the others "
            "at risk do not overlap in it."
        )
    return ""


def _by_wald(top: Maximum, z: float) -> Floats:
    # Where a direction is flat, what does not lie in it keeps its variance.
    variance = np.linalg.pinv(top.point.information, rcond=1e-14, hermitian=True)
    std_error = np.sqrt(np.maximum(np.diag(variance), 0.0))
    std_error[std_error == 0] = np.nan
    p_value = erfc(np.abs(top.at / std_error) / math.sqrt(2))
    low, high = top.at - z * std_error, top.at + z * std_error
    return np.column_stack([top.at, std_error, low, high, p_value])


def _by_profile(
    likelihood: Likelihood, top: Maximum, place: int, std_error: float, z: float
) -> list[float]:
    limits = [profile_limit(likelihood, top, place, side * z * std_error, z) for side in (-1, 1)]
    return [float(top.at[place]), std_error, *limits, _p_value(likelihood, top, place)]


def _p_value(likelihood: Likelihood, top: Maximum, place: int) -> float:
    without = top.at - top.at[place] * along_profile(top, place)
    without[place] = 0.0
    fallen, _ = signed_root(likelihood, top, without, place)
    return float(chdtrc(1, fallen**2))


def _one_sided(likelihood: Likelihood, top: Maximum, place: int, z: float) -> list[float]:
    side = math.copysign(1.0, top.at[place])
    back = profile_limit(likelihood, top, place, -side * max(abs(top.at[place]) / 4, 1.0), z)
    limits = (back, math.inf) if side > 0 else (-math.inf, back)
    return [side * math.inf, math.nan, *limits, _p_value(likelihood, top, place)]


def _covariates(X: ArrayLike) -> tuple[Floats, list[str]]:
    columns = as_numbers(X, "X")
    if columns.ndim == 1:
        columns = columns[:, None]
    if columns.ndim != 2 or columns.size == 0:
        raise ValueError("X must have at least one row and one column")
    if not np.isfinite(columns).all():
        raise ValueError("X must not hold missing or infinite values")
    if isinstance(X, pd.DataFrame):
        return columns, [str(name) for name in X.columns]
    if isinstance(X, pd.Series) and X.name is not None:
        return columns, [str(X.name)]
    return columns, [f"x{number}" for number in range(1, columns.shape[1] + 1)]


def _check_rank(columns: Floats, names: Sequence[str]) -> None:
    if len(columns) < columns.shape[1]:
        raise ValueError(f"{columns.shape[1]} coefficients need more than {len(columns)} subjects")
    size = np.linalg.norm(columns, axis=0)
    dependent = [name for name, one in zip(names, size, strict=True) if not one > 0]
    if not dependent:
        _, upper = np.linalg.qr(columns / size)
        left = np.abs(np.diag(upper)) < 1e-9
        dependent = [name for name, one in zip(names, left, strict=True) if one]
    if dependent:
        raise ValueError(f"{', '.join(dependent)} never varies, or follows from the columns before")


def _check_information(nothing: Point, names: Sequence[str]) -> None:
    # Where nobody is told apart, rounding can leave a little less than nothing.
    size = np.sqrt(np.maximum(np.diag(nothing.information), 0.0))
    silent = [name for name, one in zip(names, size, strict=True) if not one > 1e-9]
    if not silent:
        scaled = nothing.information / np.outer(size, size)
        values, vectors = np.linalg.eigh(scaled)
        if values[0] < 1e-10:
            silent = [
                name for name, one in zip(names, vectors[:, 0], strict=True) if abs(one) > 1e-3
            ]
    if silent:
        raise ValueError(f"{', '.join(silent)} tells nobody apart among those at risk at an event")
