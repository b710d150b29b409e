"""A running chart: its design worked out from the baseline, and what it says of the cases since."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analytics.estimators import monitoring, run_lengths

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Limit:
    """The limit of a chart with what it costs: cases to a false alarm and to a true one."""

    limit: float
    false_alarm: float
    delay: float


@dataclass(frozen=True)
class Crossing:
    """One signal: the run of cases since the sum last began, and what was expected of them."""

    position: int
    cases: int
    events: int
    expected_events: float


@dataclass(frozen=True)
class Reading:
    """A chart read to its end: the sum after each case, its crossings, and the present run."""

    path: tuple[float, ...]
    crossings: tuple[Crossing, ...]
    limit: float

    @property
    def now(self) -> float:
        """The sum as it stands; 0 before the first case and after a crossing."""
        if not self.path or (self.crossings and self.crossings[-1].position == len(self.path) - 1):
            return 0.0
        return self.path[-1]


def limit_for(risks: Sequence[float], odds_ratio: float, run_length: float) -> Limit:
    """Return the limit whose average run to a false alarm is at least so many cases.

    `risks` are the expected risks of the baseline's cases, from which those to come are taken to be
    drawn. Raises ValueError where no limit gives that run length, or for bad input.
    """
    limit = monitoring.limit_for_arl(risks, odds_ratio, run_length)
    # Where every single event signals, any limit up to the least that one adds is the same chart.
    without, with_event = run_lengths.log_likelihood_weights(np.asarray(risks), odds_ratio)
    single = with_event if odds_ratio > 1 else without
    limit = max(limit, float(single.min()) * (1 - 1e-9))
    return Limit(
        limit=limit,
        false_alarm=monitoring.run_length(limit, risks, odds_ratio),
        delay=monitoring.run_length(limit, risks, odds_ratio, true_odds_ratio=odds_ratio),
    )


def read(
    outcomes: Sequence[bool], expected: Sequence[float], odds_ratio: float, limit: float
) -> Reading:
    """Read a chart through its cases in their order; it begins again at 0 after each crossing.

    A place with the expected risk 0 is one whose case was withdrawn: the sum stays as it was.
    """
    happened, risks = np.asarray(outcomes, dtype=float), np.asarray(expected, dtype=float)
    there = np.flatnonzero(risks)
    if not there.size:
        return Reading((0.0,) * len(risks), (), limit)
    chart = monitoring.cusum(happened[there], risks[there], odds_ratio, limit)
    signals = there[chart.signals]
    crossings, begins = [], 0
    for position in signals.tolist():
        run = slice(begins, position + 1)
        crossings.append(
            Crossing(
                position=position,
                cases=int(np.count_nonzero(risks[run])),
                events=int(happened[run].sum()),
                expected_events=float(risks[run].sum()),
            )
        )
        begins = position + 1
    return Reading(
        _over_all_places(chart.path, there, signals, len(risks)), tuple(crossings), limit
    )


def _over_all_places(
    path: "NDArray[Any]", there: "NDArray[np.intp]", signals: "NDArray[np.intp]", places: int
) -> tuple[float, ...]:
    """Return the sum at every place: at an empty one as it stood, 0 where it had begun again."""
    filled = dict(zip(there.tolist(), path.tolist(), strict=True))
    crossed, sums, at = set(signals.tolist()), [], 0.0
    for place in range(places):
        sums.append(filled.get(place, at))
        at = 0.0 if place in crossed else sums[-1]
    return tuple(sums)
