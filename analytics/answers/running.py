"""A running chart: its design worked out from the baseline, and what it says of the cases since."""

from collections.abc import Sequence
from dataclasses import dataclass

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
    """Read a chart through its cases in their order; it begins again at 0 after each crossing."""
    if not len(outcomes):
        return Reading((), (), limit)
    happened, risks = np.asarray(outcomes, dtype=float), np.asarray(expected, dtype=float)
    chart = monitoring.cusum(happened, risks, odds_ratio, limit)
    crossings, begins = [], 0
    for position in chart.signals.tolist():
        run = slice(begins, position + 1)
        crossings.append(
            Crossing(
                position=position,
                cases=position + 1 - begins,
                events=int(happened[run].sum()),
                expected_events=float(risks[run].sum()),
            )
        )
        begins = position + 1
    return Reading(tuple(chart.path.tolist()), tuple(crossings), limit)
