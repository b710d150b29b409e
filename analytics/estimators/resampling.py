"""Many resamples at once, by weights along the time axis."""

from dataclasses import dataclass
from typing import Self

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from analytics.estimators.inputs import Floats, as_groups, as_line, as_observed

# So many cells are drawn at a time; more would only take memory.
CELLS_AT_A_TIME = 4_000_000


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
        size = int(self.counts.sum())
        share = self.counts / size
        at_a_time = max(1, CELLS_AT_A_TIME // self.counts.size)
        parts = []
        for done in range(0, resamples, at_a_time):
            number = min(at_a_time, resamples - done)
            parts.append(self.survival(rng.multinomial(size, share, number)))
        return np.concatenate(parts)


def bootstrap_survival(
    durations: ArrayLike,
    observed: ArrayLike,
    groups: ArrayLike,
    horizon: float,
    resamples: int = 2000,
    seed: int = 0,
) -> pd.DataFrame:
    """Return the survival of each group at a horizon in bootstrap resamples of that group.

    A row for each resample, a column for each group. Subjects who share their time and how it
    ended are drawn together as one multinomial count, which is the same as drawing them one by
    one. A group that nobody of a resample is followed to the horizon in keeps the last value, as
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
