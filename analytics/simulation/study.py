"""How far estimators of a loss that only films can show miss a truth that is known."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.integrate import quad

from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.inputs import Floats
from analytics.estimators.interval import incidences_at
from analytics.estimators.survival import kaplan_meier

# The days on which films are due, how far they scatter about them, and the share that is missed.
FILM_DAYS = np.array([14, 42, 91, 183, 365, 731])
SCATTER = np.array([3, 6, 12, 20, 30, 45])
MISSED = np.array([0.05, 0.08, 0.12, 0.15, 0.20, 0.30])
NET, CRUDE = "were nothing else to happen", "with other events in the way"
FOUND_KM = "Kaplan-Meier by the day of the film"
FOUND_AJ = "Aalen-Johansen by the day of the film"
BETWEEN = "between films"


@dataclass(frozen=True)
class Setting:
    """A service of known rates; shares are by 24 months, of operations.

    Losses come with a hazard that falls with time (Weibull, `shape` below 1), revision and death
    come before them, or before a film could show them, at a steady pace, and so do those who stay
    away for good.
    """

    size: int
    loss: float = 0.15
    shape: float = 0.8
    competing: float = 0.12
    stay_away: float = 0.20

    @property
    def scale(self) -> float:
        """Return the scale of the Weibull law of losses, in days."""
        return float(FILM_DAYS[-1] / (-math.log1p(-self.loss)) ** (1 / self.shape))

    @property
    def competing_rate(self) -> float:
        """Return the daily rate of competing events."""
        return float(-math.log1p(-self.competing) / FILM_DAYS[-1])

    @property
    def away_rate(self) -> float:
        """Return the daily rate at which patients stay away for good."""
        return float(-math.log1p(-self.stay_away) / FILM_DAYS[-1])


@dataclass(frozen=True)
class Seen:
    """What a service sees: each loss in (left, right], and the day and cause of the first event.

    The cause is 1 for a loss on the day of the film that showed it, 2 for a competing event, 0 for
    neither by the last film.
    """

    left: Floats
    right: Floats
    days: Floats
    causes: np.ndarray[tuple[int], np.dtype[np.int_]]


def truth(setting: Setting) -> dict[str, Floats]:
    """Return the true share with a loss by each film day: net of other events, and with them."""

    def density(day: float) -> float:
        part = day / setting.scale
        fall = setting.shape / setting.scale * part ** (setting.shape - 1)
        return float(fall * math.exp(-(part**setting.shape) - setting.competing_rate * day))

    net = 1 - np.exp(-((FILM_DAYS / setting.scale) ** setting.shape))
    crude = [quad(density, 0, day, limit=200)[0] for day in FILM_DAYS]
    return {NET: net, CRUDE: np.array(crude)}


def observe(setting: Setting, rng: np.random.Generator) -> Seen:
    """Return what films and records show of one invented cohort."""
    size = setting.size
    lost = setting.scale * rng.weibull(setting.shape, size)
    other = np.ceil(rng.exponential(1 / setting.competing_rate, size))
    away = rng.exponential(1 / setting.away_rate, size)
    films = np.rint(FILM_DAYS + SCATTER * rng.normal(size=(size, FILM_DAYS.size)))
    films = np.sort(np.maximum(films, 1), axis=1)
    taken = rng.random(films.shape) >= MISSED
    taken &= films <= np.minimum(away, other - 1)[:, None]
    left = np.where(taken & (films < lost[:, None]), films, 0).max(axis=1)
    right = np.where(taken & (films >= lost[:, None]), films, np.inf).min(axis=1)
    # Whoever stays away is not heard of again, so that a competing event later is not known.
    known = np.isinf(right) & (other <= np.minimum(away, FILM_DAYS[-1] + 3 * SCATTER[-1]))
    causes = np.select([np.isfinite(right), known], [1, 2], default=0)
    return Seen(left, right, np.select([causes == 1, causes == 2], [right, other], left), causes)


def run(
    setting: Setting, replicates: int, seed: int = 1, done: Callable[[], object] = lambda: None
) -> pd.DataFrame:
    """Return for each estimator and film day the truth, the bias, and how often the interval held it.

    `done` is called after each replicate. Columns: method, of (what the truth is of), day, truth,
    bias, coverage, missed_below (the interval lay below the truth), missed_above. Raises ValueError
    unless there is at least one replicate.
    """
    if replicates < 1:
        raise ValueError(f"at least one replicate is needed, got {replicates}")
    rng, found = np.random.default_rng(seed), []
    for number in range(replicates):
        found.append(list(_estimates(observe(setting, rng), number)))
        done()
    true, rows = truth(setting), []
    # Axes: replicate, method, day, and of these the estimate, low and high.
    values = np.array([[shares for _, _, shares in one] for one in found])
    for place, (method, of, _) in enumerate(found[0]):
        estimate, low, high = np.moveaxis(values[:, place], 2, 0)
        below, above = (high < true[of]).mean(axis=0), (low > true[of]).mean(axis=0)
        columns = {
            "method": method,
            "of": of,
            "day": FILM_DAYS,
            "truth": true[of],
            "bias": estimate.mean(axis=0) - true[of],
            "coverage": 1 - below - above,
            "missed_below": below,
            "missed_above": above,
        }
        rows.append(pd.DataFrame(columns))
    return pd.concat(rows, ignore_index=True)


def _estimates(seen: Seen, seed: int) -> Iterator[tuple[str, str, list[list[float]]]]:
    """Yield each method, what it estimates, and estimate, low and high by each film day."""
    curve = kaplan_meier(seen.days, seen.causes == 1)
    shares = 1 - curve[["survival", "high", "low"]]
    yield FOUND_KM, NET, _at_days(shares)
    incidence = cumulative_incidence(seen.days, seen.causes, 1)
    yield FOUND_AJ, CRUDE, _at_days(incidence[["incidence", "low", "high"]])
    competing = np.where(seen.causes == 2, seen.days, np.nan)
    for of, others in ((NET, None), (CRUDE, competing)):
        between = incidences_at(seen.left, seen.right, FILM_DAYS, seed=seed, competing=others)
        yield BETWEEN, of, [[one.estimate, one.low, one.high] for one in between]


def _at_days(curve: pd.DataFrame) -> list[list[float]]:
    places = np.searchsorted(curve.index.to_numpy(), FILM_DAYS, side="right")
    values = np.vstack([np.zeros(3), curve.to_numpy(float)])
    return [[float(value) for value in values[place]] for place in places]
