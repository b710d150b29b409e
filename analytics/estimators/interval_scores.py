"""Log-rank scores of interval-censored rows, and what relabelling makes of their sums."""

import numpy as np
from scipy.special import xlogy

from analytics.estimators.inputs import Floats
from analytics.estimators.intersections import Places, Runs

AT_ONCE = 2_000_000


def sun(runs: Runs, mass: Floats) -> Floats:
    """Return each subject's score by Sun: above 0 for early events, 0 on average.

    In each cell the score is 1 less the hazard summed up to it, and a subject has the mean of its
    cells' scores by their masses, which is the log-rank score where every event is exactly known.

    References: Sun, Stat Med 1996;15:1387; Fay and Shaw, J Stat Softw 2010;36(2).
    """
    before = _before(mass)
    hazard = np.divide(mass, before, out=np.zeros_like(mass), where=before > 0)
    weighed = np.concatenate([[0.0], np.cumsum(mass * (1 - np.cumsum(hazard)))])
    summed = np.concatenate([[0.0], np.cumsum(mass)])
    held = summed[runs.last + 1] - summed[runs.first]
    scores: Floats = (weighed[runs.last + 1] - weighed[runs.first]) / held
    return scores[runs.row_of]


def finkelstein(runs: Runs, mass: Floats) -> Floats:
    """Return each subject's score by Finkelstein, that of proportional hazards.

    References: Finkelstein, Biometrics 1986;42:845; Fay and Shaw, J Stat Softw 2010;36(2).
    """
    survival = np.append(_before(mass), 0.0)
    begin, end = survival[runs.first], survival[runs.last + 1]
    scores: Floats = (xlogy(begin, begin) - xlogy(end, end)) / (begin - end)
    return scores[runs.row_of]


def spread(scores: Floats, sums: Floats, sizes: Places) -> Floats:
    """Return how far groups' sums of scores lie apart, as a chi-squared on groups - 1.

    `sums` may hold one row for each relabelling. Scores have the mean 0.

    References: Fay and Shaw, J Stat Softw 2010;36(2), section 2.3 (permutation form).
    """
    variance = float((scores**2).sum()) / (scores.size - 1)
    if variance == 0:
        return np.zeros(sums.shape[:-1])
    apart: Floats = (sums**2 / sizes).sum(axis=-1) / variance
    return apart


def relabelled(scores: Floats, sizes: Places, times: int, seed: int) -> Floats:
    """Return the spread of the groups' sums under each of so many random relabellings."""
    rng = np.random.default_rng(seed)
    begins = np.cumsum(sizes) - sizes
    at_once = max(1, AT_ONCE // scores.size)
    found = []
    for begin in range(0, times, at_once):
        drawn = np.tile(scores, (min(at_once, times - begin), 1))
        rng.permuted(drawn, axis=1, out=drawn)
        found.append(spread(scores, np.add.reduceat(drawn, begins, axis=1), sizes))
    return np.concatenate(found)


def _before(mass: Floats) -> Floats:
    """Return the share still without the event before each cell."""
    before: Floats = mass[::-1].cumsum()[::-1] / mass.sum()
    return before
