"""Many resamples at once, by weights along the time axis."""

from dataclasses import dataclass
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from analytics.estimators.inputs import Floats, as_groups, as_line, as_observed

# So many are drawn at a time; more would only take memory.
DRAWS_AT_A_TIME = 4_000_000
# A cell drawn at once costs about as much as so many subjects drawn one by one.
ONE_BY_ONE = 4


@dataclass(frozen=True)
class Spell:
    """Subjects counted into what came between and at the event times up to a horizon.

    `counts` holds, in turn, those lost before an event time and those with the event at it, and
    last all who stayed beyond.
    """

    counts: NDArray[np.intp]

    @classmethod
    def of(cls, times: Floats, happened: NDArray[np.bool_], horizon: float) -> Self:
        """Count subjects; an event at a time comes before a loss at it."""
        ended = happened & (times <= horizon)
        points = np.unique(times[ended])
        place = 2 * np.searchsorted(points, times, side="right")
        place[ended] -= 1
        return cls(np.bincount(place, minlength=2 * points.size + 1))

    def survival(self, weights: NDArray[np.integer]) -> Floats:
        """Return the product-limit survival at the horizon for each row of weights of the cells."""
        events = weights[:, 1::2]
        gone = weights.cumsum(axis=1)
        at_risk = gone[:, -1:] - gone[:, :-1:2]
        factors = 1 - events / np.maximum(at_risk, 1)
        found: Floats = factors.prod(axis=1)
        return found

    def resampled(self, resamples: int, rng: np.random.Generator) -> Floats:
        """Return the survival at the horizon in so many bootstrap resamples."""
        at_a_time = max(1, DRAWS_AT_A_TIME // (self.counts.size + int(self.counts[:-1].sum())))
        parts = [
            self.survival(self.weights(min(at_a_time, resamples - done), rng))
            for done in range(0, resamples, at_a_time)
        ]
        return np.concatenate(parts)

    def weights(self, resamples: int, rng: np.random.Generator) -> NDArray[np.integer]:
        """Return how often each cell is drawn in so many resamples, a row for each.

        Many subjects in few cells are drawn a cell at a time, which is the same as one by one.
        """
        size, cells = int(self.counts.sum()), self.counts.size
        leaving = int(self.counts[:-1].sum())
        if leaving > ONE_BY_ONE * cells:
            return rng.multinomial(size, self.counts / size, resamples)
        # Whoever stays beyond needs no drawing, only counting.
        inside = rng.binomial(size, leaving / size, resamples)
        each = np.repeat(np.arange(cells - 1), self.counts[:-1])
        drawn = each[rng.integers(0, max(leaving, 1), int(inside.sum()))]
        drawn += np.repeat(np.arange(resamples) * cells, inside)
        found = np.bincount(drawn, minlength=resamples * cells).reshape(resamples, cells)
        found[:, -1] = size - inside
        return found


def bootstrap_survival(
    durations: ArrayLike,
    observed: ArrayLike,
    groups: ArrayLike,
    horizon: float,
    resamples: int = 2000,
    seed: int = 0,
) -> pd.DataFrame:
    """Return the survival of each group at a horizon in bootstrap resamples of that group.

    A row for each resample, a column for each group. A group that nobody of a resample is followed to the horizon in keeps the last value, as
    the curve does. Raises ValueError on bad input.

    References: Efron, JASA 1981;76:312-319 (resampling censored data).
    """
    points, place = as_line(durations, "durations")
    happened = as_observed(observed, place).astype(bool)
    group, labels = as_groups(groups, place.size, "groups")
    if not horizon > 0:
        raise ValueError(f"the horizon must be above 0, got {horizon}")
    if resamples < 1:
        raise ValueError(f"there must be at least one resample, got {resamples}")
    rng, times = np.random.default_rng(seed), points[place]
    found = []
    for number in range(labels.size):
        mine = group == number
        found.append(Spell.of(times[mine], happened[mine], horizon).resampled(resamples, rng))
    return pd.DataFrame(np.array(found).T, columns=labels)
