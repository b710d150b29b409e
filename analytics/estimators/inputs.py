"""Checks that every estimator makes of what it is given."""

import math
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.floating[Any]]
Codes = NDArray[np.intp]

# Whole times are counted day by day as long as there are not many more days than subjects.
DAYS_BEYOND = 20_000


def as_times(values: ArrayLike, name: str) -> Floats:
    """Return an array of times.

    Raises ValueError when it is empty, negative or not a number.
    """
    times = as_numbers(values, name)
    _check_times(times, name)
    return times


def as_line(values: ArrayLike, name: str) -> tuple[Floats, Codes]:
    """Return points of time, ascending, and the place of each of some times among them.

    Where the times are whole numbers, the points are all whole numbers up to the last, so that
    nothing is sorted; then there can be points at which no time lies. Raises ValueError like
    `as_times`.
    """
    times = np.asarray(values)
    if times.dtype.kind not in "iu":
        times = as_numbers(values, name)
    _check_times(times, name)
    last = float(times.max())
    if last <= times.size + DAYS_BEYOND:
        days = times.astype(np.intp, copy=False)
        if times.dtype.kind in "iu" or (days == times).all():
            return np.arange(int(last) + 1, dtype=float), days
    points, place = np.unique(times.astype(float), return_inverse=True)
    return points, place


def _check_times(times: NDArray[Any], name: str) -> None:
    if times.ndim != 1 or times.size == 0:
        raise ValueError(f"{name} must be a list with at least one value")
    least = float(times.min())
    if not (math.isfinite(least) and math.isfinite(times.max())):
        raise ValueError(f"{name} must not hold missing or infinite values")
    if least < 0:
        raise ValueError(f"{name} must not be negative")


def as_codes(values: ArrayLike, times: NDArray[Any], name: str) -> NDArray[np.int_]:
    """Return one whole number, 0 or above, for each time.

    Raises ValueError when there are more or fewer than times, or another value among them.
    """
    codes = np.asarray(values)
    if codes.dtype.kind not in "bui":
        codes = as_numbers(values, name)
    if codes.shape != times.shape:
        raise ValueError(f"durations has {times.size} values, {name} has {codes.size}")
    if codes.dtype.kind == "b":
        return codes.astype(int)
    whole = codes.dtype.kind in "ui" or (
        np.isfinite(codes).all() and (codes == np.floor(codes)).all()
    )
    if not whole or codes.min() < 0:
        raise ValueError(f"{name} must hold whole numbers from 0 on, and none missing")
    return codes.astype(int, copy=False)


def as_observed(values: ArrayLike, times: NDArray[Any]) -> NDArray[np.int_]:
    """Return 1 for each time at which the event came, 0 where it was only not yet seen.

    Raises ValueError when there are more or fewer than times, or another value among them.
    """
    happened = as_codes(values, times, "observed")
    if happened.max() > 1:
        raise ValueError("observed must hold only 0 and 1 (or False and True)")
    return happened


def as_entries(entry: ArrayLike, times: Floats) -> Floats:
    """Return the time at which each came under observation.

    Raises ValueError unless there is one for each time, and before it.
    """
    entered = as_times(entry, "entry")
    if entered.shape != times.shape:
        raise ValueError(f"durations has {times.size} values, entry has {entered.size}")
    if (entered >= times).any():
        raise ValueError("each entry must be before its duration")
    return entered


def as_groups(values: ArrayLike, size: int, name: str) -> tuple[Codes, pd.Index]:
    """Return the place of each label among the distinct labels, and these, ascending.

    Raises ValueError when there are more or fewer than `size`, or a label is missing.
    """
    labels = values if isinstance(values, pd.Series | pd.Index) else np.asarray(values)
    if labels.ndim != 1 or len(labels) != size:
        raise ValueError(f"durations has {size} values, {name} has {len(labels)}")
    if isinstance(labels, np.ndarray) and labels.dtype.kind in "ui":
        found = _small_numbers(labels)
        if found is not None:
            return found
    codes, distinct = pd.factorize(labels, sort=True)
    if (codes < 0).any():
        raise ValueError(f"{name} must not hold missing values")
    return codes, pd.Index(distinct)


def _small_numbers(labels: NDArray[np.integer]) -> tuple[Codes, pd.Index] | None:
    if labels.size == 0 or labels.min() < 0 or labels.max() > labels.size + 100:
        return None
    present = np.flatnonzero(np.bincount(labels))
    codes = labels.astype(np.intp, copy=False)
    if present.size != present[-1] + 1:
        codes = np.searchsorted(present, codes)
    return codes, pd.Index(present)


def as_numbers(values: ArrayLike, name: str) -> Floats:
    """Return an array of floats.

    Raises ValueError when a value is not a number; a missing one is passed on as NaN.
    """
    try:
        return np.asarray(values, dtype=float)
    except (TypeError, ValueError) as fault:
        raise ValueError(f"{name} must hold numbers only: {fault}") from fault


def check_level(level: float) -> None:
    """Refuse a confidence level.

    Raises ValueError unless it lies between 0 and 1.
    """
    if not 0 < level < 1:
        raise ValueError(f"the level must lie between 0 and 1, got {level}")


def sum_at(place: Codes, weights: ArrayLike, size: int) -> Floats:
    """Return the sum of the weights that fall at each of `size` places."""
    return np.bincount(place, weights=np.asarray(weights, dtype=float), minlength=size).astype(
        float, copy=False
    )


def counted(*axes: tuple[Codes, int]) -> NDArray[np.intp]:
    """Return how many there are in each cell of a table of two or more axes.

    Each axis is the place of each on it, and its length.
    """
    (first, _), (second, length), *others = axes
    # One array of working space only, however many the axes: at 100,000 its making is what costs.
    cell = first * length
    cell += second
    for places, size in others:
        cell *= size
        cell += places
    shape = [size for _, size in axes]
    return np.bincount(cell, minlength=math.prod(shape)).reshape(shape)
