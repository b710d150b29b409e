"""What estimators return."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A value with the two ends of its interval."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class Bounds:
    """The two values that a proportion would take at the extremes."""

    low: float
    high: float
