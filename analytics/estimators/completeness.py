"""How complete a follow-up is, and what those who were not seen could change."""

from dataclasses import dataclass

from numpy.typing import ArrayLike

from analytics.estimators.inputs import as_times
from analytics.estimators.proportions import missing_bounds
from analytics.estimators.results import Bounds

# Rates are typed with decimals; a rate that equals the target does not exceed it.
TOLERANCE = 1e-12


@dataclass(frozen=True)
class Tipping:
    """What the unseen could do to a rate.

    `at` is the smallest number of the unseen who must have had the event for the rate over all to
    exceed the target: 0 when it does without any, None when not even all of them would do.
    """

    events: int
    evaluable: int
    unseen: int
    bounds: Bounds
    at: int | None


def person_time_completeness(observed: ArrayLike, potential: ArrayLike) -> float:
    """Return Clark's C: person-time that was observed over what could have been.

    The potential time of a person ends with the event, death, the horizon or the end of the data,
    whichever came first; the observed time ends there or where the person was last seen. Any unit.

    Raises ValueError for empty, negative or missing times, unequal lengths, an observed time above
    its potential, or no potential time at all.

    References: Clark, Altman and De Stavola, Lancet 2002;359:1309.
    """
    seen, possible = as_times(observed, "observed"), as_times(potential, "potential")
    if seen.shape != possible.shape:
        raise ValueError(f"observed has {seen.size} values, potential has {possible.size}")
    if (seen > possible).any():
        raise ValueError("nobody can be observed for longer than their potential time")
    if not possible.sum():
        raise ValueError("there is no potential time yet")
    return float(seen.sum() / possible.sum())


def lost_to_failure(lost: int, failures: int) -> float | None:
    """Return how many are lost for each failure seen; None where no failure was seen.

    Above 1 more are unaccounted for than are known to have failed.

    Raises ValueError for a negative number.

    References: Murray, Britton and Bulstrode, J Bone Joint Surg Br 1997;79:254 (place from memory).
    """
    if lost < 0 or failures < 0:
        raise ValueError(f"counts must not be negative, got {lost} and {failures}")
    return lost / failures if failures else None


def tipping_point(events: int, evaluable: int, eligible: int, target: float) -> Tipping:
    """Return from how many events among the unseen on a rate would exceed a target share.

    Raises ValueError unless 0 <= events <= evaluable <= eligible, eligible > 0 and 0 <= target <= 1.

    References: National Research Council, Prevention and Treatment of Missing Data, 2010, chapter 5.
    """
    if not 0 <= target <= 1:
        raise ValueError(f"the target must lie between 0 and 1, got {target}")
    bounds = missing_bounds(events, evaluable, eligible)
    unseen = eligible - evaluable
    over = (more for more in range(unseen + 1) if (events + more) / eligible > target + TOLERANCE)
    return Tipping(events, evaluable, unseen, bounds, next(over, None))
