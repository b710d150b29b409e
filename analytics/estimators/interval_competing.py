"""What other events leave of a loss that lies between two looks.

Where a competing event is as likely before a loss has been seen as without one, the hazard of the
loss is that of the fit in which other events end the observation; the share that still has its loss
is that mass times the share free of the other events up to then.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.estimators.inputs import Floats, as_numbers
from analytics.estimators.intersections import Places


@dataclass(frozen=True)
class Exits:
    """The day on which each subject was last under observation, and whether another event ended it.

    `place` is the rank of the day among the distinct `days`.
    """

    days: Floats
    place: Places
    ended: NDArray[np.bool_]

    def of(self, subjects: Places) -> "Exits":
        """Return the exits of some of the subjects."""
        return Exits(self.days, self.place[subjects], self.ended[subjects])


def exits(left: Floats, right: Floats, competing: ArrayLike | None) -> Exits | None:
    """Return when each subject left observation; None where no competing events are given.

    `competing` is the day of a competing event, missing where there was none. Raises ValueError
    unless there is one value for each subject, and each event comes on or after `left`, to a subject
    that was not seen to have the event of interest.
    """
    if competing is None:
        return None
    days = as_numbers(competing, "competing")
    if days.shape != left.shape:
        raise ValueError(f"left has {left.size} values, competing has {days.size}")
    ended = ~np.isnan(days)
    if (ended & (~np.isfinite(days) | (days < left) | np.isfinite(right))).any():
        raise ValueError("a competing event must come on or after left, and right be infinite")
    last = np.where(ended, days, np.where(np.isfinite(right), right, left))
    distinct, place = np.unique(last, return_inverse=True)
    return Exits(distinct, place, ended)


def free(rows: Exits, counts: NDArray[np.int_]) -> Floats:
    """Return the share free of competing events before any day, and by each distinct day.

    By the product limit, for each of several samples (rows of `counts`: how often each subject is
    in the sample); one column more than there are days.
    """
    drawn, size = counts.shape[0], rows.days.size
    places = np.arange(drawn)[:, None] * size + rows.place
    leaving = np.bincount(places.ravel(), counts.ravel(), drawn * size).reshape(drawn, size)
    ending = np.bincount(places.ravel(), (counts * rows.ended).ravel(), drawn * size)
    at_risk = leaving[:, ::-1].cumsum(axis=1)[:, ::-1]
    hazard = ending.reshape(drawn, size) / np.maximum(at_risk, 1)
    return np.concatenate([np.ones((drawn, 1)), np.cumprod(1 - hazard, axis=1)], axis=1)


def kept(shares: Floats, rows: Exits, sample: Places, left: Floats, right: Floats) -> Floats:
    """Return the share of each cell (left, right] of a sample that comes before other events.

    It is the mean of the shares free of them at the cell's ends; of a day, what is free before it,
    and of a cell without an end what is free where it begins.
    """
    begin = np.searchsorted(rows.days, left, side="right")
    end = np.searchsorted(rows.days, np.where(np.isinf(right), left, right), side="right")
    point = left == right
    begin[point] = end[point] = np.searchsorted(rows.days, left[point], side="left")
    found: Floats = (shares[sample, begin] + shares[sample, end]) / 2
    return found
