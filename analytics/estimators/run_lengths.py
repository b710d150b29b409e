"""How long a log-likelihood CUSUM runs before it signals, by a Markov chain."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz

from analytics.estimators.inputs import Floats


@dataclass(frozen=True)
class Steps:
    """What one case can add to the sum, and how likely each addition is."""

    sizes: Floats
    shares: Floats


def log_likelihood_weights(expected: Floats, odds_ratio: float) -> tuple[Floats, Floats]:
    """Return what a case adds to the sum without, and with, the event.

    `expected` holds risks between 0 and 1, `odds_ratio` the change of the odds watched for.

    References: Steiner, Cook, Farewell and Treasure, Biostatistics 2000;1:441.
    """
    without = -np.log1p((odds_ratio - 1) * expected)
    return without, without + np.log(odds_ratio)


def bernoulli_steps(expected: Floats, odds_ratio: float, true_odds_ratio: float) -> Steps:
    """Return the steps of cases drawn at random from a mix of risks.

    The odds of each event are `true_odds_ratio` times those expected: 1 is in control.
    """
    risks, counts = np.unique(expected, return_counts=True)
    without, with_event = log_likelihood_weights(risks, odds_ratio)
    odds = true_odds_ratio * risks / (1 - risks)
    true = odds / (1 + odds)
    mix = counts / counts.sum()
    return Steps(
        np.concatenate([without, with_event]), np.concatenate([mix * (1 - true), mix * true])
    )


def average_run_length(steps: Steps, grain: float, states: int) -> float:
    """Return the mean number of cases until a sum that starts at 0 reaches `states * grain`.

    The sum lives on multiples of `grain` and never falls below 0. A step that falls between two
    multiples is shared by them so that its mean is kept; on a lattice the result is exact. Raises
    ValueError when no step leads upwards, since then the sum never gets there.

    References: Brook and Evans, Biometrika 1972;59:539.
    """
    if not (steps.shares[steps.sizes > 0] > 0).any():
        raise ValueError("no step leads upwards, so the limit is never reached")
    lowest, jumps = _on_the_grid(steps, grain, states)
    # Leaving state i by j - i: constant along diagonals, but for what would fall below 0.
    up = _taken(jumps, np.arange(states) - lowest)
    down = _taken(jumps, -np.arange(states) - lowest)
    below = _taken(np.concatenate([[0.0], np.cumsum(jumps)]), -np.arange(states) - lowest)
    diagonal, column, row = 1.0 - up[0], -down, -up
    column[0] = row[0] = diagonal
    plain, wall = solve_toeplitz((column, row), np.column_stack([np.ones(states), below])).T
    return float(plain[0] / (1 - wall[0]))


def _on_the_grid(steps: Steps, grain: float, states: int) -> tuple[int, Floats]:
    """Return the lowest jump in grains, and the probability of each jump from it upwards."""
    # A step longer than the way is as good as one of its length.
    exact = np.clip(steps.sizes / grain, -states, states)
    floor = np.floor(exact)
    upper = exact - floor
    lowest = int(floor.min())
    place = (floor - lowest).astype(int)
    jumps = np.zeros(place.max() + 2)
    np.add.at(jumps, place, steps.shares * (1 - upper))
    np.add.at(jumps, place + 1, steps.shares * upper)
    return lowest, jumps


def _taken(values: Floats, places: NDArray[np.int_]) -> Floats:
    inside = (places >= 0) & (places < values.size)
    return np.where(inside, values[np.clip(places, 0, values.size - 1)], 0.0)
