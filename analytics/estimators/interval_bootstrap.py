"""Bootstrap samples of interval-censored rows, fitted many at a time."""

import numpy as np
from pandas import factorize

from analytics.estimators.inputs import Floats, sum_at
from analytics.estimators.intersections import Coded, Places, coded, condense
from analytics.estimators.npmle import Samples, fit

# A tenth of a thousandth of a log-likelihood unit a subject is far below what a sample varies by.
GAP = 1e-4
# So many rows at a time stay near the processor.
ROWS = 40_000


def resampled(left: Floats, right: Floats, horizons: Floats, resamples: int, seed: int) -> Floats:
    """Return the share with the event by each horizon, in each of so many samples with replacement.

    Intervals are (left, right]. Rows are samples, columns horizons. Where a sample does not say on
    which side of the horizon a mass lies, one half of it counts.
    """
    rows = coded(left, right)
    code, distinct = factorize(rows.starts * rows.size + rows.ends)
    rows = Coded(rows.values, distinct // rows.size, distinct % rows.size)
    chances = np.bincount(code) / left.size
    rng = np.random.default_rng(seed)
    at_once = max(1, ROWS // distinct.size)
    done: list[Floats] = []
    for begin in range(0, resamples, at_once):
        counts = rng.multinomial(left.size, chances, size=min(at_once, resamples - begin))
        done.append(_shares(rows, counts, horizons))
    return np.concatenate(done)


def _shares(rows: Coded, counts: Places, horizons: Floats) -> Floats:
    drawn, (which, row) = counts.shape[0], np.nonzero(counts)
    offset = which * rows.size
    begins, ends, first, last = condense(
        offset + rows.starts[row], offset + rows.ends[row], drawn * rows.size
    )
    first, last, count, held = _merged(first, last, counts[which, row], begins.size, which, drawn)
    sample = begins // rows.size
    cells = np.bincount(sample, minlength=drawn)
    found = fit(Samples(first, last, count, cells, held), gap=GAP)
    left, right = (rows.values[places % rows.size // 2] for places in (begins, ends))
    middle = np.empty((drawn, horizons.size))
    for column, horizon in enumerate(horizons):
        ended = np.bincount(sample[right <= horizon], minlength=drawn)
        begun = np.bincount(sample[(left < horizon) | (right <= horizon)], minlength=drawn)
        lower, upper = (found.cumulative[found.begins + at] for at in (ended, begun))
        middle[:, column] = (lower + upper) / 2
    return middle


def _merged(
    first: Places, last: Places, count: Places, cells: int, which: Places, drawn: int
) -> tuple[Places, Places, Floats, Places]:
    """Return rows of which those of a sample that hold the same cells have become one."""
    code, place = np.unique(first * cells + last, return_inverse=True)
    # The cells of samples rise, so the rows stay in the order of their samples.
    sample = np.zeros(code.size, dtype=np.intp)
    sample[place] = which
    summed = sum_at(place, count, code.size)
    return code // cells, code % cells, summed, np.bincount(sample, minlength=drawn)
