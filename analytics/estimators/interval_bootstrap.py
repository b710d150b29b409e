"""Bootstrap samples of interval-censored rows, fitted many at a time."""

import numpy as np
from pandas import factorize

from analytics.estimators.inputs import Floats, sum_at
from analytics.estimators.intersections import Coded, Places, coded, condense
from analytics.estimators.interval_competing import Exits, free, kept
from analytics.estimators.npmle import Samples, fit

# A tenth of a thousandth of a log-likelihood unit a subject is far below what a sample varies by.
GAP = 1e-4
# So many rows at a time stay near the processor.
ROWS = 40_000


def resampled(
    left: Floats,
    right: Floats,
    horizons: Floats,
    resamples: int,
    seed: int,
    others: Exits | None = None,
) -> Floats:
    """Return the share with the event by each horizon, in each of so many samples with replacement.

    Intervals are (left, right]. Rows are samples, columns horizons. Where a sample does not say on
    which side of the horizon a mass lies, one half of it counts. With `others`, the event counts
    only where no other event came before it.
    """
    rows = coded(left, right)
    code = rows.starts * rows.size + rows.ends
    if others is not None:
        code = (code * others.days.size + others.place) * 2 + others.ended
    # What is alike is drawn as one, in the order of its coming.
    code, _ = factorize(code)
    one_of, count = np.unique(code, return_index=True)[1], np.bincount(code)
    rows = Coded(rows.values, rows.starts[one_of], rows.ends[one_of])
    others = None if others is None else others.of(one_of)
    chances = count / left.size
    rng = np.random.default_rng(seed)
    at_once = max(1, ROWS // one_of.size)
    done: list[Floats] = []
    for begin in range(0, resamples, at_once):
        counts = rng.multinomial(left.size, chances, size=min(at_once, resamples - begin))
        done.append(_shares(rows, counts, horizons, others))
    return np.concatenate(done)


def _shares(rows: Coded, counts: Places, horizons: Floats, others: Exits | None) -> Floats:
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
    mass = np.diff(found.cumulative)[np.arange(sample.size) + sample]
    if others is not None:
        mass = mass * kept(free(others, counts), others, sample, left, right)
    summed = np.concatenate([[0.0], np.cumsum(mass)])
    begin = np.cumsum(cells) - cells
    middle = np.empty((drawn, horizons.size))
    for column, horizon in enumerate(horizons):
        ended = np.bincount(sample[right <= horizon], minlength=drawn)
        begun = np.bincount(sample[(left < horizon) | (right <= horizon)], minlength=drawn)
        middle[:, column] = (summed[begin + ended] + summed[begin + begun]) / 2 - summed[begin]
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
