"""The maximal intersections of intervals, and the run of them that each interval holds."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pandas import factorize

from analytics.estimators.inputs import Floats, sum_at

Places = NDArray[np.intp]


@dataclass(frozen=True)
class Runs:
    """Cells (left, right] that can hold mass, and the distinct rows as runs of cells.

    A cell of equal ends is that very point. Distinct row i holds the cells first[i] to last[i] and
    stands for count[i] subjects; `row_of` says which distinct row each subject is.
    """

    left: Floats
    right: Floats
    first: Places
    last: Places
    count: Floats
    row_of: Places

    @property
    def cells(self) -> int:
        """Return how many cells there are."""
        return int(self.left.size)


@dataclass(frozen=True)
class Coded:
    """Intervals (left, right] as places: each value is one, and the gap behind it the next.

    Row i holds the places starts[i] to ends[i]; value k is the place 2 k, the gap behind it 2 k + 1.
    """

    values: Floats
    starts: Places
    ends: Places

    @property
    def size(self) -> int:
        """Return how many places there are."""
        return 2 * int(self.values.size)


def coded(left: Floats, right: Floats) -> Coded:
    """Return intervals (left, right], or points where both are equal, as runs of places."""
    place, values = factorize(np.concatenate([left, right]), sort=True)
    return Coded(values, 2 * place[: left.size] + (left != right), 2 * place[left.size :])


def intersections(left: Floats, right: Floats) -> Runs:
    """Return the maximal intersections of intervals (left, right], or points where both are equal.

    A cell begins at a left end and ends at the next right end, with no other end between. No table
    of rows by cells is made.

    References: Turnbull, J R Stat Soc B 1976;38:290; Gentleman and Geyer, Biometrika 1994;81:618.
    """
    rows = coded(left, right)
    lefts, rights, first, last = condense(rows.starts, rows.ends, rows.size)
    code, distinct = factorize(first * lefts.size + last)
    return Runs(
        rows.values[lefts // 2],
        rows.values[rights // 2],
        distinct // lefts.size,
        distinct % lefts.size,
        sum_at(code, np.ones(code.size), distinct.size),
        code,
    )


def condense(starts: Places, ends: Places, size: int) -> tuple[Places, Places, Places, Places]:
    """Return first and last place of each maximal intersection of runs among `size` places.

    And the first and last intersection, by number, that each run holds.
    """
    lefts, rights = _distinct(starts, size), _distinct(ends, size)
    following = rights[np.searchsorted(rights, lefts)]
    alone = np.append(lefts[1:], size) > following
    lefts, following = lefts[alone], following[alone]
    begun, ended = np.zeros(size + 1, dtype=np.intp), np.zeros(size + 1, dtype=np.intp)
    begun[lefts + 1] = 1
    ended[following + 1] = 1
    return lefts, following, begun.cumsum()[starts], ended.cumsum()[ends + 1] - 1


def _distinct(places: Places, size: int) -> Places:
    seen = np.zeros(size, dtype=bool)
    seen[places] = True
    return np.flatnonzero(seen)
