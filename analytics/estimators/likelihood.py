"""Maximising a likelihood, and walking along its profile."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh

from analytics.estimators.inputs import Floats

# The step that is left, squared, in units of the standard errors.
ENOUGH = 1e-20
# Of a profile only the height is asked for, not where its top is.
ENOUGH_OF_HEIGHT = 1e-14
# Information that has fallen to this share of what it was at the start is none.
FLAT = 1e-8
MOST_STEPS, MOST_HALVINGS = 100, 40
# With no more than this to gain, a climb that takes its time has arrived all the same; with so much,
# one that floats let climb no further.
ARRIVED, STUCK = 1e-12, 1e-8
# A step cut to a thousandth leads nowhere; so many of them are the end of a climb.
CREEPS, MOST_CREEPS = 10, 3


@dataclass(frozen=True)
class Point:
    """A log-likelihood with its gradient and its information at some coefficients."""

    value: float
    gradient: Floats
    information: Floats


Likelihood = Callable[[Floats], Point]


@dataclass(frozen=True)
class Maximum:
    """Where a log-likelihood is greatest.

    `gap` is what the last step could still have gained; `flat` holds, a column each, directions
    in which the likelihood rises without end, none as a rule; `unit` is the information by which
    that is judged.
    """

    at: Floats
    point: Point
    iterations: int
    gap: float
    flat: Floats
    converged: bool
    unit: Floats


def maximise(
    likelihood: Likelihood,
    start: Floats,
    free: NDArray[np.bool_] | None = None,
    unit: Floats | None = None,
    enough: float = ENOUGH,
) -> Maximum:
    """Climb a concave log-likelihood by Newton's steps, halved while they lead down.

    Only the coefficients that are `free` move. A direction in which the information has gone is
    held flat, and the others are still brought to their maximum. It has gone where little is left
    of `unit`, which must be of full rank; without one, of the information at the start.
    """
    at, point = start, likelihood(start)
    moving = np.ones(start.size, dtype=bool) if free is None else free
    block = np.ix_(moving, moving)
    whole = point.information if unit is None else unit
    flat, gap, iterations, small = np.zeros((start.size, 0)), 0.0, 0, not moving.any()
    creeping = 0
    while not small and iterations < MOST_STEPS and creeping < MOST_CREEPS:
        shares, directions = eigh(point.information[block], whole[block])
        held = shares <= FLAT
        slopes = directions.T @ point.gradient[moving]
        along = np.where(held, 0.0, slopes / np.where(held, 1.0, shares))
        gap = float(along @ slopes) / 2
        flat = np.zeros((start.size, int(held.sum())))
        flat[moving] = directions[:, held]
        small = gap < enough
        step = np.zeros(start.size)
        step[moving] = directions @ along
        before = at
        at, point, halvings = _stepped(likelihood, at, point, step)
        creeping += halvings >= CREEPS
        iterations += 1
        if at is before:
            # No step, however small, leads up as far as floats can tell.
            creeping = MOST_CREEPS
    arrived = small or gap < (STUCK if creeping >= MOST_CREEPS else ARRIVED)
    return Maximum(at, point, iterations, gap, flat, arrived, whole)


def _stepped(
    likelihood: Likelihood, at: Floats, point: Point, step: Floats
) -> tuple[Floats, Point, int]:
    rounding = 1e-13 * (1 + abs(point.value))
    for halvings in range(MOST_HALVINGS):
        beyond = at + step / 2**halvings
        found = likelihood(beyond)
        if found.value >= point.value - rounding:
            return beyond, found, halvings
    return at, point, MOST_HALVINGS


def signed_root(
    likelihood: Likelihood, top: Maximum, at: Floats, place: int
) -> tuple[float, Maximum]:
    """Return the root of twice the fall of the profile where one coefficient is held as in `at`."""
    free = np.arange(at.size) != place
    found = maximise(likelihood, at, free, top.unit, ENOUGH_OF_HEIGHT)
    return math.sqrt(max(0.0, 2 * (top.point.value - found.point.value))), found


def along_profile(top: Maximum, place: int) -> Floats:
    """Return how all coefficients move with one of them along its profile, near the top.

    Nothing but the one moves where the likelihood rises without end.
    """
    ahead: Floats = (np.arange(top.at.size) == place).astype(float)
    others = ahead == 0
    if top.flat.size or not others.any():
        return ahead
    information = top.point.information
    block = information[np.ix_(others, others)]
    ahead[others] = -np.linalg.lstsq(block, information[others, place], rcond=None)[0]
    return ahead


def profile_limit(
    likelihood: Likelihood, top: Maximum, place: int, width: float, root: float
) -> float:
    """Return where a coefficient's profile has fallen to a root, going from the top by `width`.

    The sign of `width` is the side. Infinite where the profile does not fall so far. The root is
    nearly a straight line in the coefficient, which is what makes Newton's steps on it few.

    References: Venzon and Moolgavkar, Appl Stat 1988;37:87-94 (the limit); Heinze and Schemper,
    Stat Med 2002;21:2409-2419 (with a penalised likelihood).
    """
    side = math.copysign(1.0, width)
    ahead_of, inner, outer = along_profile(top, place), 0.0, math.inf
    distance = abs(width)
    at = top.at + side * distance * ahead_of
    for _ in range(25):
        fallen, found = signed_root(likelihood, top, at, place)
        if abs(fallen - root) < 1e-10 * root:
            return float(at[place])
        inner, outer = (distance, outer) if fallen < root else (inner, distance)
        slope = -side * found.point.gradient[place] / fallen if fallen > 0 else 0.0
        ahead = distance + (root - fallen) / slope if slope > 0 else math.inf
        within = inner < ahead < min(outer, 3 * distance + inner)
        distance = ahead if within else (2 * distance if math.isinf(outer) else (inner + outer) / 2)
        at = found.at + (top.at[place] + side * distance - found.at[place]) * ahead_of
        if distance > 1e4 * abs(width):
            return side * math.inf
    return float(top.at[place] + side * distance)
