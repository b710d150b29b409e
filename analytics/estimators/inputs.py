"""Checks that every estimator makes of what it is given."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def as_times(values: ArrayLike, name: str) -> Floats:
    """Return an array of times.

    Raises ValueError when it is empty, negative or not a number.
    """
    times = as_numbers(values, name)
    if times.ndim != 1 or times.size == 0:
        raise ValueError(f"{name} must be a list with at least one value")
    if not np.isfinite(times).all():
        raise ValueError(f"{name} must not hold missing or infinite values")
    if (times < 0).any():
        raise ValueError(f"{name} must not be negative")
    return times


def as_codes(values: ArrayLike, times: Floats, name: str) -> NDArray[np.int_]:
    """Return one whole number, 0 or above, for each time.

    Raises ValueError when there are more or fewer than times, or another value among them.
    """
    codes = as_numbers(values, name)
    if codes.shape != times.shape:
        raise ValueError(f"durations has {times.size} values, {name} has {codes.size}")
    if not np.isfinite(codes).all() or (codes != np.floor(codes)).any() or (codes < 0).any():
        raise ValueError(f"{name} must hold whole numbers from 0 on, and none missing")
    return codes.astype(int)


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


def sum_at(place: NDArray[np.intp], weights: ArrayLike, size: int) -> Floats:
    """Return the sum of the weights that fall at each of `size` places."""
    return np.bincount(place, weights=np.asarray(weights, dtype=float), minlength=size).astype(
        float
    )
