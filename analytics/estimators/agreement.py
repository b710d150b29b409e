"""How well readers, or readings, agree."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.special import chdtri, fdtri, ndtri, stdtrit

from analytics.estimators.inputs import Floats, as_numbers, check_level
from analytics.estimators.results import Estimate

Model = Literal["ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"]
MODELS = ("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)")
Error = Literal["agreement", "consistency", "within"]


@dataclass(frozen=True)
class MeanSquares:
    """Mean squares of ratings: between subjects, between raters, what is left of both, and within.

    `within` is what is left of the subjects alone, raters included.
    """

    subjects: int
    raters: int
    left_out: int
    between: float
    by_rater: float
    residual: float
    within: float


@dataclass(frozen=True)
class Icc(Estimate):
    """An intraclass correlation, its interval, and the mean squares it comes from."""

    model: str
    squares: MeanSquares


@dataclass(frozen=True)
class Change(Estimate):
    """The change that errors of measurement seldom make, its interval, and the error itself."""

    std_error_of_measurement: float
    subjects: int
    left_out: int


@dataclass(frozen=True)
class Limits(Estimate):
    """The mean difference with the limits of agreement as `low` and `high`.

    `mean`, `lower` and `upper` are the same three with their intervals; `sd` is that of the
    differences.
    """

    mean: Estimate
    lower: Estimate
    upper: Estimate
    sd: float
    pairs: int
    left_out: int


@dataclass(frozen=True)
class Kappa(Estimate):
    """Agreement beyond chance with its interval, and the agreements that it compares."""

    std_error: float
    observed: float
    by_chance: float
    pairs: int
    left_out: int


def mean_squares(ratings: ArrayLike) -> MeanSquares:
    """Return the mean squares of ratings, a row for each subject and a column for each rater.

    Rows with a missing value are left out and counted. Raises ValueError unless there are at least
    two raters and two subjects whom all of them rated.
    """
    table = as_numbers(ratings, "ratings")
    if table.ndim != 2 or table.shape[1] < 2:
        raise ValueError("ratings must have a row for each subject and at least two columns")
    if np.isinf(table).any():
        raise ValueError("ratings must not hold infinite values")
    whole = table[~np.isnan(table).any(axis=1)]
    n, k = whole.shape
    if n < 2:
        raise ValueError(f"at least two subjects must have all ratings, got {n}")
    of_subject, of_rater = whole.mean(axis=1), whole.mean(axis=0)
    between = k * float(of_subject.var(ddof=1))
    by_rater = n * float(of_rater.var(ddof=1))
    left = whole - of_subject[:, None] - of_rater + whole.mean()
    residual = float((left**2).sum()) / ((n - 1) * (k - 1))
    within = float(whole.var(axis=1, ddof=1).mean())
    # What is nothing but for rounding is nothing.
    least = 1e-24 * float(np.abs(whole).max()) ** 2
    found = (one if one > least else 0.0 for one in (between, by_rater, residual, within))
    return MeanSquares(n, k, len(table) - n, *found)


def icc(ratings: ArrayLike, model: Model, level: float = 0.95) -> Icc:
    """Return an intraclass correlation with its interval.

    `ratings` has a row for each subject and a column for each rater; rows with a missing value are
    left out and counted. ICC(1,.): each subject has its own raters; ICC(2,.): the raters are some
    of many, and agreement is asked for; ICC(3,.): these raters alone, and consistency. The forms
    with 1 are for one rating, those with k for the mean of all. What a few ratings leave undefined,
    as where subjects and raters are all alike, is NaN.

    Raises ValueError for another model and like `mean_squares`.

    References: Shrout and Fleiss, Psychol Bull 1979;86:420-428.
    """
    check_level(level)
    if model not in MODELS:
        raise ValueError(f"the model must be one of {', '.join(MODELS)}, got {model!r}")
    squares = mean_squares(ratings)
    kind, mean_of_all = model[4], model.endswith("k)")
    error = squares.residual if kind == "3" else squares.within
    if error == 0:
        single = (1.0, 1.0, 1.0) if squares.between > 0 else (math.nan, math.nan, math.nan)
    elif kind == "2":
        single = _two_way(squares, level)
    else:
        single = _by_ratio(squares, kind, level)
    k = squares.raters
    if mean_of_all:
        estimate, low, high = (_stepped_up(one, k) for one in single)
        return Icc(estimate, low, high, model, squares)
    return Icc(*single, model, squares)


def _stepped_up(single: float, k: int) -> float:
    """Return the correlation of the mean of k ratings, after Spearman and Brown."""
    below = 1 + (k - 1) * single
    return -math.inf if below <= 0 else k * single / below


def _by_ratio(squares: MeanSquares, kind: str, level: float) -> tuple[float, float, float]:
    n, k = squares.subjects, squares.raters
    error = squares.within if kind == "1" else squares.residual
    freedom = n * (k - 1) if kind == "1" else (n - 1) * (k - 1)
    ratio, tail = squares.between / error, 0.5 + level / 2
    below = ratio / float(fdtri(n - 1, freedom, tail))
    above = ratio * float(fdtri(freedom, n - 1, tail))
    estimate, low, high = ((one - 1) / (one + k - 1) for one in (ratio, below, above))
    return estimate, low, high


def _two_way(squares: MeanSquares, level: float) -> tuple[float, float, float]:
    n, k = squares.subjects, squares.raters
    between, rater, error = squares.between, squares.by_rater, squares.residual
    whole = between + (k - 1) * error + k * (rater - error) / n
    if abs(whole) < 1e-12 * (between + error):
        return math.nan, math.nan, math.nan
    estimate = (between - error) / whole
    rest = n * (1 + (k - 1) * estimate) - k * estimate
    above = (k - 1) * (n - 1) * (k * estimate * rater + rest * error) ** 2
    below = (n - 1) * (k * estimate * rater) ** 2 + (rest * error) ** 2
    if not (above > 0 and below > 0):
        return estimate, math.nan, math.nan
    freedom, tail = above / below, 0.5 + level / 2
    up, down = float(fdtri(n - 1, freedom, tail)), float(fdtri(freedom, n - 1, tail))
    noise = k * rater + (k * n - k - n) * error
    low = n * (between - up * error) / (up * noise + n * between)
    high = n * (down * between - error) / (noise + n * down * between)
    return estimate, low, high


def minimal_detectable_change(
    ratings: ArrayLike, error: Error = "agreement", level: float = 0.95
) -> Change:
    """Return the change between two ratings that errors of measurement alone seldom exceed.

    It is z times the root of 2 times the standard error of measurement, in the ratings' unit, with
    z and the interval at `level`. `ratings` as for `icc`. The error is 'agreement': what differs
    between raters and within them, for when another may rate next time; 'consistency': without
    what differs between raters; 'within': repeated ratings in no order, all that differs.

    The interval is that of a variance, with Satterthwaite's freedom where two are added up. Raises
    ValueError for another error and like `mean_squares`.

    References: de Vet et al., J Clin Epidemiol 2006;59:1033-1039; Satterthwaite, Biometrics
    1946;2:110-114.
    """
    check_level(level)
    squares = mean_squares(ratings)
    n, k = squares.subjects, squares.raters
    if error == "within":
        parts = [(squares.within, n * (k - 1))]
    elif error == "consistency":
        parts = [(squares.residual, (n - 1) * (k - 1))]
    elif error == "agreement":
        rest = (1 - 1 / n) * squares.residual
        parts = [(squares.by_rater / n, k - 1), (rest, (n - 1) * (k - 1))]
    else:
        raise ValueError(f"the error must be 'agreement', 'consistency' or 'within', got {error!r}")
    variance = sum(part for part, _ in parts)
    sem = math.sqrt(variance)
    z = float(ndtri(0.5 + level / 2)) * math.sqrt(2)
    if variance == 0:
        return Change(0.0, 0.0, 0.0, 0.0, n, squares.left_out)
    freedom = variance**2 / sum(part**2 / free for part, free in parts)
    low, high = (
        z * math.sqrt(freedom * variance / float(chdtri(freedom, tail)))
        for tail in ((1 - level) / 2, (1 + level) / 2)
    )
    return Change(z * sem, low, high, sem, n, squares.left_out)


def limits_of_agreement(
    a: ArrayLike, b: ArrayLike, level: float = 0.95, factor: float | None = None
) -> Limits:
    """Return the mean of a less b and the limits between which most differences lie.

    The limits are the mean less and plus `factor` standard deviations of the differences; without
    a factor, as many as hold the level's share of a normal distribution. The intervals, at the
    level, are of the mean and of each limit. Pairs with a missing value are left out and counted.

    Raises ValueError on unequal lengths and on fewer than two whole pairs.

    References: Bland and Altman, Lancet 1986;i:307-310; Stat Methods Med Res 1999;8:135-160, whose
    variance of a limit is that of the mean plus factor squared over 2n times that of a difference.
    """
    check_level(level)
    first, second = as_numbers(a, "a"), as_numbers(b, "b")
    if first.ndim != 1 or first.shape != second.shape:
        raise ValueError(f"a has {first.size} values, b has {second.size}")
    apart = first - second
    known = apart[np.isfinite(apart)]
    n = known.size
    if n < 2:
        raise ValueError(f"at least two pairs must be whole, got {n}")
    times = float(ndtri(0.5 + level / 2)) if factor is None else factor
    if not times > 0:
        raise ValueError(f"the factor must be above 0, got {factor}")
    mean, sd = float(known.mean()), float(known.std(ddof=1))
    t = float(stdtrit(n - 1, 0.5 + level / 2))
    half, wider = t * sd / math.sqrt(n), t * sd * math.sqrt((1 + times**2 / 2) / n)
    low, high = mean - times * sd, mean + times * sd
    return Limits(
        mean,
        low,
        high,
        Estimate(mean, mean - half, mean + half),
        Estimate(low, low - wider, low + wider),
        Estimate(high, high - wider, high + wider),
        sd,
        n,
        apart.size - n,
    )


def kappa(
    a: ArrayLike,
    b: ArrayLike,
    weights: Literal["linear", "quadratic"] | ArrayLike | None = None,
    categories: Sequence[str | float] | None = None,
    level: float = 0.95,
) -> Kappa:
    """Return Cohen's kappa of two lists of categories, with its large-sample interval.

    `weights` says how much a disagreement counts: None, all alike; 'linear' or 'quadratic', by the
    distance of numbers, or of places in `categories`; or a matrix, either of disagreement with 0
    in its diagonal or of agreement with its greatest value there, in the order of `categories` or
    else ascending. Pairs with a missing value are left out and counted. NaN where both used one
    category only.

    Raises ValueError on unequal lengths, no whole pair, a value outside the categories, words
    weighed without an order, and a matrix that does not fit.

    References: Cohen, Educ Psychol Meas 1960;20:37-46 and Psychol Bull 1968;70:213-220; variance:
    Fleiss, Cohen and Everitt, Psychol Bull 1969;72:323-327.
    """
    check_level(level)
    one, two, left_out = _whole_pairs(a, b)
    order = _categories(one, two) if categories is None else pd.Index(list(categories))
    rows, columns = order.get_indexer(pd.Index(one)), order.get_indexer(pd.Index(two))
    if min(rows.min(), columns.min()) < 0:
        raise ValueError(f"a value is not among the categories {', '.join(map(str, order))}")
    counts = np.zeros((order.size, order.size))
    np.add.at(counts, (rows, columns), 1)
    agreement = _agreement(weights, order, categories is not None)
    return _weighed(counts, agreement, left_out, level)


def _weighed(counts: Floats, agreement: Floats, left_out: int, level: float) -> Kappa:
    n = int(counts.sum())
    share = counts / n
    of_a, of_b = share.sum(axis=1), share.sum(axis=0)
    observed, chance = float((agreement * share).sum()), float(of_a @ agreement @ of_b)
    if chance >= 1 - 1e-12:
        return Kappa(math.nan, math.nan, math.nan, math.nan, observed, chance, n, left_out)
    value = (observed - chance) / (1 - chance)
    expected = (agreement @ of_b)[:, None] + (of_a @ agreement)[None, :]
    spread = float((share * (agreement - expected * (1 - value)) ** 2).sum())
    variance = max(0.0, spread - (value - chance * (1 - value)) ** 2) / n
    std_error = math.sqrt(variance) / (1 - chance)
    half = float(ndtri(0.5 + level / 2)) * std_error
    return Kappa(value, value - half, value + half, std_error, observed, chance, n, left_out)


def _whole_pairs(a: ArrayLike, b: ArrayLike) -> tuple[pd.Series, pd.Series, int]:
    one, two = pd.Series(a), pd.Series(b)
    if len(one) != len(two):
        raise ValueError(f"a has {len(one)} values, b has {len(two)}")
    one, two = one.reset_index(drop=True), two.reset_index(drop=True)
    known = one.notna() & two.notna()
    if not known.any():
        raise ValueError("there is no whole pair")
    return one[known], two[known], int((~known).sum())


def _categories(one: pd.Series, two: pd.Series) -> pd.Index:
    found: pd.Index = pd.Index(pd.concat([one, two]).unique()).sort_values()
    return found


def _agreement(weights: object, order: pd.Index, ordered: bool) -> Floats:
    """Return weights of agreement, 1 in the diagonal."""
    size = order.size
    if weights is None:
        return np.eye(size)
    if isinstance(weights, str):
        if weights not in ("linear", "quadratic"):
            raise ValueError(f"weights must be 'linear', 'quadratic' or a matrix, got {weights!r}")
        if not ordered and not pd.api.types.is_numeric_dtype(order):
            raise ValueError("words have no distance: give the categories in their order")
        places = np.arange(size) if ordered else order.to_numpy(float)
        power = 1 if weights == "linear" else 2
        return _from_disagreement(np.abs(places[:, None] - places[None, :]) ** power)
    matrix = as_numbers(weights, "weights")  # type: ignore[arg-type]  # any value may come
    if matrix.shape != (size, size) or not np.isfinite(matrix).all():
        raise ValueError(
            f"weights must be {size} x {size} numbers, one for each pair of categories"
        )
    diagonal = np.diag(matrix)
    if (diagonal == 0).all() and (matrix >= 0).all():
        return _from_disagreement(matrix)
    if (diagonal == matrix.max()).all() and matrix.max() > 0:
        scaled: Floats = matrix / matrix.max()
        return scaled
    raise ValueError("weights must have 0, or their greatest value, all along the diagonal")


def _from_disagreement(matrix: Floats) -> Floats:
    greatest = float(matrix.max())
    return 1 - matrix / greatest if greatest > 0 else np.ones_like(matrix)
