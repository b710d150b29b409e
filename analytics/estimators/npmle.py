"""Masses of cells that make interval-censored rows most likely, of many samples at once (EM-ICM).

A row holds a run of cells. The cells of one sample have one end more than there are cells, and the
cumulative mass is kept at these ends: 0 at the first, 1 at the last. Samples lie one behind the
other in the same arrays, so that a thousand bootstrap samples cost a few passes over an array.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from analytics.estimators.inputs import Floats
from analytics.estimators.intersections import Places

GAP = 1e-8
MOST_ROUNDS = 20_000
MOST_HALVINGS = 40


@dataclass(frozen=True)
class Masses:
    """The cumulative mass at the ends of the cells, with what proves it: see `fit`.

    Sample i has its ends from `begins[i]` on.
    """

    cumulative: Floats
    begins: Places
    log_likelihood: Floats
    gap: Floats
    rounds: int

    @property
    def mass(self) -> Floats:
        """Return the masses of the cells where there is one sample."""
        return np.diff(self.cumulative)


class Samples:
    """Rows as runs of cells, of one or more samples, and the likelihood of masses under them."""

    def __init__(
        self, first: Places, last: Places, count: Floats, cells: Places, rows: Places
    ) -> None:
        """Take sample i to have the next cells[i] cells and the next rows[i] rows.

        Cells are numbered through all samples.
        """
        which = np.repeat(np.arange(cells.size), rows)
        self.row_of, self.cells, self.rows = which, cells, rows
        # Each sample before one's own has one end more than it has cells.
        self.first, self.after, self.count = first + which, last + which + 1, count
        self.row_begins = np.cumsum(rows) - rows
        ends = cells + 1
        self.size = int(ends.sum())
        self.begins = np.cumsum(ends) - ends
        self.closes = self.begins + cells
        self.of_end = np.repeat(np.arange(cells.size), ends)
        self.total = np.add.reduceat(count, self.row_begins)
        self.inner = np.ones(self.size, dtype=bool)
        self.inner[self.begins] = self.inner[self.closes] = False
        self.inner_places = np.flatnonzero(self.inner)
        self.apart = 4.0 * self.of_end[self.inner]

    def only(self, kept: NDArray[np.bool_]) -> "Samples":
        """Return some of the samples."""
        within, cells = kept[self.row_of], self.cells[kept]
        # How far the cells of each kept sample move down.
        moved = np.zeros(kept.size, dtype=np.intp)
        moved[kept] = self.begins[kept] - (np.cumsum(cells + 1) - cells - 1)
        down = (moved + np.cumsum(kept) - 1)[self.row_of[within]]
        return Samples(
            self.first[within] - down,
            self.after[within] - down - 1,
            self.count[within],
            cells,
            self.rows[kept],
        )

    def even(self) -> Floats:
        """Return cumulative masses that are the same for every cell of a sample."""
        along = np.arange(self.size) - self.begins[self.of_end]
        even: Floats = along / self.cells[self.of_end]
        return even

    def shares(self, cumulative: Floats) -> Floats:
        """Return the mass that each row holds."""
        held: Floats = cumulative[self.after] - cumulative[self.first]
        return held

    def value(self, shares: Floats) -> Floats:
        """Return each sample's log-likelihood."""
        logs = np.full(shares.shape, -np.inf)
        np.log(shares, out=logs, where=shares > 0)
        summed: Floats = np.add.reduceat(self.count * logs, self.row_begins)
        return summed

    def losses(self, shares: Floats) -> Floats:
        """Return what the log-likelihood loses by a bit more cumulative mass at each end."""
        pull = self.count / shares
        return self._at(self.first, pull) - self._at(self.after, pull)

    def curvature(self, shares: Floats) -> Floats:
        """Return the second derivative at each end between cells, negated."""
        bend = self.count / shares**2
        every = self._at(self.first, bend) + self._at(self.after, bend)
        return every[self.inner]

    def _at(self, places: Places, weights: Floats) -> Floats:
        return np.bincount(places, weights, self.size).astype(float, copy=False)


def fit(samples: Samples, start: Floats | None = None, gap: float = GAP) -> Masses:
    """Return the masses of cells under which the rows of each sample are most likely.

    `gap` is the largest directional derivative of the log-likelihood per subject: no other masses
    can do better by more than the number of subjects times it. `start` is the cumulative mass to
    begin with, which must rise across every cell. Raises ValueError when a sample has not reached
    the gap in 20,000 rounds.

    An EM step and an iterative convex minorant step take turns, the second halved until the
    likelihood does not fall.

    References: Wellner and Zhan, J Am Stat Assoc 1997;92:945 (the hybrid); Jongbloed, J Comput
    Graph Stat 1998;7:310 (the halving); Gentleman and Geyer, Biometrika 1994;81:618 (the stop).
    """
    cumulative = samples.even() if start is None else start
    for rounds in range(MOST_ROUNDS):
        shares = samples.shares(cumulative)
        gains = np.cumsum(samples.losses(shares)) / samples.total[samples.of_end]
        beyond = np.maximum(np.maximum.reduceat(gains, samples.begins) - 1, 0.0)
        open_ones = beyond >= gap
        if not open_ones.any():
            return Masses(cumulative, samples.begins, samples.value(shares), beyond, rounds)
        if 2 * open_ones.sum() < open_ones.size:
            return _finished(samples, cumulative, open_ones, beyond, gap, rounds)
        cumulative = _minorant(samples, _expected(samples, cumulative, gains))
    raise ValueError(f"the estimate did not settle: {beyond.max():g} after {MOST_ROUNDS} rounds")


def _finished(
    samples: Samples,
    cumulative: Floats,
    open_ones: NDArray[np.bool_],
    beyond: Floats,
    gap: float,
    done: int,
) -> Masses:
    """Return all masses after fitting on alone the samples that have not settled."""
    ends = open_ones[samples.of_end]
    rest = fit(samples.only(open_ones), cumulative[ends], gap)
    whole, gaps = cumulative.copy(), beyond.copy()
    whole[ends], gaps[open_ones] = rest.cumulative, rest.gap
    value = samples.value(samples.shares(whole))
    return Masses(whole, samples.begins, value, gaps, done + rest.rounds)


def _expected(samples: Samples, cumulative: Floats, gains: Floats) -> Floats:
    """Return the cumulative mass after one EM step: each cell times its gain."""
    mass = np.zeros(samples.size)
    mass[1:] = np.diff(cumulative) * gains[:-1]
    # The step between samples is none of a cell.
    mass[samples.begins] = 0
    summed = np.cumsum(mass)
    before = summed[samples.begins]
    whole = summed[samples.closes] - before
    stepped: Floats = (summed - before[samples.of_end]) / whole[samples.of_end]
    return stepped


def _minorant(samples: Samples, cumulative: Floats) -> Floats:
    """Return the cumulative mass after one step of the iterative convex minorant."""
    if not samples.inner_places.size:
        return cumulative
    shares = samples.shares(cumulative)
    bend, inner = samples.curvature(shares), cumulative[samples.inner]
    wish = inner - samples.losses(shares)[samples.inner] / bend
    # A wish lies between -1 and 2, so samples set apart by 4 are not drawn into one another.
    aim = isotonic_regression(wish + samples.apart, weights=bend).x - samples.apart
    step = np.zeros(samples.size)
    step[samples.inner_places] = np.clip(aim, 0, 1) - inner
    return _halved(samples, cumulative, step, samples.value(shares))


def _halved(samples: Samples, cumulative: Floats, step: Floats, before: Floats) -> Floats:
    """Return the first of ever smaller steps at which no sample's likelihood falls."""
    for _ in range(MOST_HALVINGS):
        new = cumulative + step
        falls: NDArray[np.bool_] = ~(samples.value(samples.shares(new)) >= before)
        if not falls.any():
            return new
        step = np.where(falls[samples.of_end], step / 2, step)
    return cumulative + np.where(falls[samples.of_end], 0.0, step)
