"""What estimators return."""

from dataclasses import dataclass, field

import pandas as pd


@dataclass(frozen=True)
class Estimate:
    """A value with the two ends of its interval."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class Mean(Estimate):
    """A value with its standard error and the two ends of its interval."""

    std_error: float


@dataclass(frozen=True)
class Bounds:
    """The two values that a proportion would take at the extremes."""

    low: float
    high: float


@dataclass(frozen=True)
class Test:
    """A chi-squared statistic with its degrees of freedom and the probability of one as large."""

    # It is no class of tests, whatever its name says to a test runner.
    __test__ = False

    statistic: float
    df: int
    p_value: float


@dataclass(frozen=True)
class GroupTest(Test):
    """A test that groups are alike; `frame` has the observed and expected events of each."""

    frame: pd.DataFrame = field(compare=False)
