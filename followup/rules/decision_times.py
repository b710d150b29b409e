"""How long questions wait for their answer, those still open counted as open.

A question that is open has waited so long and may be answered yet; one whose follow-up ended can no
longer be; one that was declined will not end in a removal. So shares are cumulative incidences
(Aalen and Johansen, Scand J Stat 1978;5:141); without competing answers that is one minus the
Kaplan-Meier estimate.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

# Below this number of questions no share and no median is given.
FEW = 5
AT_DAYS = (28, 84, 182, 365)


class End(StrEnum):
    """How a question stands at the end of its time."""

    ANSWERED = "answered"
    OTHERWISE = "otherwise"
    OPEN = "open"
    LEFT = "left"


@dataclass(frozen=True)
class Wait:
    """So many questions that waited so many days and then ended, or are open still."""

    days: int
    end: End
    number: int = 1


@dataclass(frozen=True)
class Times:
    """What is known of a set of waits; shares 0 to 1, days None where they are not reached."""

    raised: int
    answered: int
    otherwise: int
    open: int
    left: int
    quartiles: tuple[int | None, int | None, int | None]
    shares: tuple[float, ...]
    longest_open: int | None
    middle_open: float | None

    @property
    def percents(self) -> tuple[int, ...]:
        """Return the shares as whole percentages."""
        return tuple(round(share * 100) for share in self.shares)

    @property
    def too_few(self) -> bool:
        """Whether the numbers are too small for shares and medians."""
        return self.raised < FEW


def times(waits: Iterable[Wait]) -> Times:
    """Summarise waits.

    Raises ValueError for one of fewer than 0 days.
    """
    by_day: dict[int, Counter[End]] = {}
    for wait in waits:
        if wait.days < 0:
            raise ValueError(f"a question cannot have waited {wait.days} days")
        by_day.setdefault(wait.days, Counter())[wait.end] += wait.number
    every: Counter[End] = sum(by_day.values(), Counter())
    steps = _incidence(by_day, every.total())
    open_days = sorted(
        day for day, ends in by_day.items() for _ in range(ends[End.OPEN]) if ends[End.OPEN]
    )
    return Times(
        raised=every.total(),
        answered=every[End.ANSWERED],
        otherwise=every[End.OTHERWISE],
        open=every[End.OPEN],
        left=every[End.LEFT],
        quartiles=(_reaches(steps, 0.25), _reaches(steps, 0.5), _reaches(steps, 0.75)),
        shares=tuple(_share(steps, day) for day in AT_DAYS),
        longest_open=open_days[-1] if open_days else None,
        middle_open=_middle(open_days),
    )


def _incidence(by_day: dict[int, Counter[End]], at_risk: int) -> list[tuple[int, float]]:
    """Return the share answered up to and with each day on which one was."""
    waiting, share = 1.0, 0.0
    steps = []
    for day in sorted(by_day):
        ends = by_day[day]
        if ends[End.ANSWERED]:
            share += waiting * ends[End.ANSWERED] / at_risk
            steps.append((day, share))
        waiting *= 1 - (ends[End.ANSWERED] + ends[End.OTHERWISE]) / at_risk
        at_risk -= ends.total()
    return steps


def _share(steps: list[tuple[int, float]], day: int) -> float:
    return max((share for on, share in steps if on <= day), default=0.0)


def _reaches(steps: list[tuple[int, float]], share: float) -> int | None:
    """Return the first day by which so many were answered; a rounding error does not hide it."""
    return next((day for day, reached in steps if reached >= share - 1e-12), None)


def _middle(days: list[int]) -> float | None:
    if not days:
        return None
    half = len(days) // 2
    return float(days[half]) if len(days) % 2 else (days[half - 1] + days[half]) / 2
