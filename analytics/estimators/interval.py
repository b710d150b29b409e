"""Events that are known only to lie between two looks."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import chi2

from analytics.estimators.inputs import Floats, as_numbers, as_times, check_level, sum_at
from analytics.estimators.intersections import Runs, intersections
from analytics.estimators.interval_bootstrap import resampled
from analytics.estimators.interval_competing import exits, free, kept
from analytics.estimators.interval_scores import relabelled, spread, sun
from analytics.estimators.npmle import Samples, fit
from analytics.estimators.proportions import clopper_pearson
from analytics.estimators.results import Test
from analytics.estimators.survival import log_log_limits

RESAMPLES = 1000
RELABELLINGS = 9999
# Above so many subjects a fifth of the samples tells the standard error to one part in twenty, and
# relabelling tells nothing that the normal approximation does not.
MANY = 5000
RESAMPLES_OF_MANY = 200
LOG_LOG = "log-log interval with the standard error of {} bootstrap samples"
NO_EVENT = "no event by the horizon: exact binomial limits for the {} seen without it at or after"
EVERY_EVENT = "every event by the horizon: exact binomial limits for the {} seen with it by then"
UNKNOWN = "the intervals do not say on which side of the horizon the events lie"


@dataclass(frozen=True)
class Band:
    """The lowest and the highest value that the estimate allows; equal where it is identified."""

    lower: float | Floats
    upper: float | Floats


@dataclass(frozen=True)
class Turnbull:
    """The distribution under which the intervals are most likely.

    `frame` has one row for each maximal intersection, in order: left, right, mass. The event lies
    in (left, right], or on the very day where both are equal; where within is not known. No other
    masses are more likely by more than the number of subjects times `gap`.
    """

    frame: pd.DataFrame
    log_likelihood: float
    gap: float
    rounds: int
    subjects: int

    def cdf(self, t: ArrayLike) -> Band:
        """Return the share with the event by a time, or by each of several.

        Within an intersection the share may be anything from what was reached before it to what is
        reached after it: these are the band's ends. Raises ValueError when a time is missing.
        """
        times = as_numbers(t, "t")
        if np.isnan(times).any():
            raise ValueError("t must not be missing")
        lower, upper = _reached(self.frame, times)
        if times.ndim == 0:
            return Band(float(lower), float(upper))
        return Band(lower, upper)


@dataclass(frozen=True)
class IntervalIncidence:
    """The share with the event by a horizon.

    `lower` and `upper` are the ends between which the estimate is not identified, `estimate` their
    middle; `low` and `high` the limits of the interval, which hold both ends. `std_error` is NaN
    where the interval does without one. `method` says how the interval was made.
    """

    estimate: float
    low: float
    high: float
    lower: float
    upper: float
    std_error: float
    method: str


@dataclass(frozen=True)
class Comparison(Test):
    """A test that groups have the same distribution, by the spread of their sums of scores.

    `p_value` is by the normal approximation to the permutation distribution, `p_permutation` by
    random relabelling, which is to be preferred where a group is small. `frame` has for each group
    its subjects and its score, above 0 where events come earlier than in all; `z` is the signed
    root of the statistic for the first of two groups, NaN with more.
    """

    p_permutation: float
    z: float
    frame: pd.DataFrame = field(compare=False)
    method: str


def turnbull(left: ArrayLike, right: ArrayLike, competing: ArrayLike | None = None) -> Turnbull:
    """Return the most likely distribution of events known to lie in (left, right].

    `left` equal to `right` is an event at that time, `right` infinite one not seen up to `left`.
    Without `competing` other events only end the observation, and the masses are those that would
    be seen were nothing else to happen. `competing` has the day of an event after which this one no
    longer counts, missing where there was none; the masses then are of events that come before it,
    and add up to less than 1. Raises ValueError unless there is at least one interval, each has
    0 <= left <= right with left finite, and each competing event comes on or after left to a subject
    whose right is infinite.

    References: Turnbull, J R Stat Soc B 1976;38:290; Wellner and Zhan, J Am Stat Assoc
    1997;92:945; Gentleman and Geyer, Biometrika 1994;81:618 (the gap).
    """
    ends = _ends(left, right)
    others = exits(*ends, competing)
    runs = intersections(*ends)
    found = fit(_samples(runs))
    mass = found.mass
    if others is not None:
        once = np.ones((1, others.place.size), dtype=int)
        first = np.zeros(runs.cells, dtype=int)
        mass = mass * kept(free(others, once), others, first, runs.left, runs.right)
    frame = pd.DataFrame({"left": runs.left, "right": runs.right, "mass": mass})
    return Turnbull(
        frame,
        float(found.log_likelihood[0]),
        float(found.gap[0]),
        found.rounds,
        int(runs.row_of.size),
    )


def incidence_at(
    left: ArrayLike,
    right: ArrayLike,
    horizon: float,
    level: float = 0.95,
    seed: int = 0,
    competing: ArrayLike | None = None,
) -> IntervalIncidence:
    """Return the share with the event by a horizon, with its interval.

    See `incidences_at`.
    """
    return incidences_at(left, right, [horizon], level, seed, competing=competing)[0]


def incidences_at(
    left: ArrayLike,
    right: ArrayLike,
    horizons: ArrayLike,
    level: float = 0.95,
    seed: int = 0,
    resamples: int | None = None,
    competing: ArrayLike | None = None,
) -> list[IntervalIncidence]:
    """Return the share with the event by each of several horizons, from the same bootstrap samples.

    With `competing` it is the share with the event before a competing one; see `turnbull`. The
    interval is log-log with the standard error of 1,000 bootstrap samples, or of 200 where there
    are more than 5,000 subjects; where no event, or every one, lies
    before the horizon it is the exact binomial one of those about whom that is known. It should be
    asked for at days on which many are seen: between them the estimate is biased and the interval
    too short. Raises ValueError on bad input.
    """
    check_level(level)
    ends, times = _ends(left, right), as_times(horizons, "horizons")
    if resamples is None:
        resamples = RESAMPLES if ends[0].size <= MANY else RESAMPLES_OF_MANY
    if resamples < 2:
        raise ValueError(f"at least two bootstrap samples are needed, got {resamples}")
    whole = turnbull(*ends, competing)
    bands = zip(*_reached(whole.frame, times), strict=True)
    draws = resampled(*ends, times, resamples, seed, exits(*ends, competing))
    return [
        _incidence(*ends, float(time), (float(lower), float(upper)), middle, level)
        for time, (lower, upper), middle in zip(times, bands, draws.T, strict=True)
    ]


def compare(
    left: ArrayLike,
    right: ArrayLike,
    groups: ArrayLike,
    seed: int = 0,
    relabellings: int = RELABELLINGS,
) -> Comparison:
    """Return Sun's log-rank test of interval-censored groups, by permutation.

    With more than 5,000 subjects `p_permutation` is `p_value`. The groups are two or more, in the order of their names; a group that nobody is in is none. The
    test holds only if the looks did not depend on the group. Raises ValueError on bad input, or
    when there are fewer than two groups.

    References: Sun, Stat Med 1996;15:1387; Fay and Shaw, J Stat Softw 2010;36(2).
    """
    ends = _ends(left, right)
    code, names = pd.factorize(np.asarray(groups), sort=True)
    if code.shape != ends[0].shape:
        raise ValueError(f"left has {ends[0].size} values, groups has {code.size}")
    if (code < 0).any() or names.size < 2:
        raise ValueError("groups must name at least two groups, and none may be missing")
    runs = intersections(*ends)
    scores = sun(runs, fit(_samples(runs)).mass)
    sizes, sums = np.bincount(code), sum_at(code, scores, names.size)
    statistic = float(spread(scores, sums, sizes))
    p_value = float(chi2.sf(statistic, names.size - 1))
    by_relabelling = p_value
    if code.size <= MANY:
        drawn = relabelled(scores, sizes, relabellings, seed)
        # Rounding must not make a relabelling that is the very same one less extreme.
        as_far = int((drawn >= statistic * (1 - 1e-9)).sum())
        by_relabelling = (1 + as_far) / (1 + relabellings)
    return Comparison(
        statistic,
        names.size - 1,
        p_value,
        by_relabelling,
        float(np.sign(sums[0]) * np.sqrt(statistic)) if names.size == 2 else float("nan"),
        pd.DataFrame({"subjects": sizes, "score": sums}, index=pd.Index(names, name="group")),
        "Sun's log-rank scores, permutation form",
    )


def _incidence(
    left: Floats,
    right: Floats,
    horizon: float,
    band: tuple[float, float],
    draws: Floats,
    level: float,
) -> IntervalIncidence:
    lower, upper = band
    estimate, missing = (lower + upper) / 2, float("nan")
    known, seen = int((left >= horizon).sum()), int((right <= horizon).sum())
    if upper <= 1e-12:
        high = clopper_pearson(0, known, level).high
        return IntervalIncidence(0.0, 0.0, high, 0.0, 0.0, missing, NO_EVENT.format(known))
    if lower >= 1 - 1e-12:
        low = clopper_pearson(seen, seen, level).low
        return IntervalIncidence(1.0, low, 1.0, 1.0, 1.0, missing, EVERY_EVENT.format(seen))
    std_error = float(draws.std(ddof=1))
    if std_error == 0:
        return IntervalIncidence(estimate, lower, upper, lower, upper, missing, UNKNOWN)
    fewest, most = log_log_limits(np.array([1 - estimate]), np.array([std_error]), level)
    return IntervalIncidence(
        estimate,
        min(lower, 1 - float(most[0])),
        max(upper, 1 - float(fewest[0])),
        lower,
        upper,
        std_error,
        LOG_LOG.format(draws.size),
    )


def _reached(frame: pd.DataFrame, times: Floats) -> tuple[Floats, Floats]:
    """Return the mass of the cells that have ended, and of those that have begun, by each time."""
    summed = np.concatenate([[0.0], np.cumsum(frame["mass"].to_numpy())])
    ended = np.searchsorted(frame["right"].to_numpy(), times, side="right")
    begun = np.searchsorted(frame["left"].to_numpy(), times, side="left")
    # A cell that is a point has ended where it has begun.
    return summed[ended], summed[np.maximum(begun, ended)]


def _samples(runs: Runs) -> Samples:
    one = np.array([runs.cells]), np.array([runs.first.size])
    return Samples(runs.first, runs.last, runs.count, *one)


def _ends(left: ArrayLike, right: ArrayLike) -> tuple[Floats, Floats]:
    begins, ends = as_times(left, "left"), as_numbers(right, "right")
    if begins.shape != ends.shape:
        raise ValueError(f"left has {begins.size} values, right has {ends.size}")
    if np.isnan(ends).any():
        raise ValueError("right must not hold missing values; infinite means not seen")
    if (ends < begins).any():
        raise ValueError("no right may be before its left")
    return begins, ends
