import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from analytics.estimators.change import median_interval, spread

# Places of the ordered values that bound the median with 95 % (binomial table, n and p = 1/2; printed in
# many textbooks, from memory, and worked out again below).
PLACES = {6: (1, 6), 8: (1, 8), 9: (2, 8), 10: (2, 9), 15: (4, 12), 20: (6, 15), 30: (10, 21)}


def by_hand(n: int) -> tuple[int, int]:
    """Return the narrowest pair of places from both ends, by adding up the binomial."""
    held = [p for p in range(1, n // 2 + 1) if 2 * binom.cdf(p - 1, n, 0.5) <= 0.05]
    return held[-1], n + 1 - held[-1]


@pytest.mark.parametrize("n", PLACES)
def test_the_interval_of_a_median_is_that_of_the_table(n: int) -> None:
    found = median_interval(np.arange(1, n + 1))
    assert found is not None
    assert (found.low, found.high) == PLACES[n] == by_hand(n)
    assert found.n == n
    assert found.median == (n + 1) / 2


def test_too_few_values_have_a_median_and_no_interval() -> None:
    found = median_interval([1, 2, 3, 4, 5])
    assert found is not None
    assert (found.median, found.low, found.high) == (3, None, None)
    assert median_interval([]) is None
    assert median_interval([math.nan]) is None


@given(st.lists(st.integers(-10, 10), min_size=6, max_size=40))
def test_ties_and_order_change_nothing(values: list[int]) -> None:
    found = median_interval(values)
    low, high = by_hand(len(values))
    assert found is not None
    assert (found.low, found.high) == (sorted(values)[low - 1], sorted(values)[high - 1])
    assert found.low is not None
    assert found.low <= found.median <= sorted(values)[high - 1]


def test_the_interval_holds_the_median_as_often_as_it_says() -> None:
    random = np.random.default_rng(20261129)
    # Skewed on purpose; the median of an exponential is log 2.
    rows = random.exponential(size=(2000, 30))
    found = [median_interval(row) for row in rows]
    held = [
        one.low <= math.log(2) <= one.high
        for one in found
        if one is not None and one.low is not None and one.high is not None
    ]
    # 95.7 % by the binomial; three standard errors of 2,000 are 1.4 points.
    assert len(held) == 2000
    assert np.mean(held) == pytest.approx(0.957, abs=0.014)


def test_missing_values_are_left_out() -> None:
    assert median_interval([*range(10), math.nan]) == median_interval(range(10))
    whole = spread([1, 2, 3, 4, math.nan])
    assert whole == spread([1, 2, 3, 4])
    assert whole is not None
    assert (whole.n, whole.lower, whole.median, whole.upper) == (4, 1.75, 2.5, 3.25)


def test_quartiles_are_in_order_and_none_of_nothing() -> None:
    assert spread([]) is None
    found = spread([7])
    assert found is not None
    assert (found.lower, found.median, found.upper) == (7, 7, 7)
    many = spread(np.random.default_rng(1).normal(size=50))
    assert many is not None
    assert all(one <= two for one, two in pairwise((many.lower, many.median, many.upper)))


def test_words_and_levels_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="numbers only"):
        spread(["much"])
    with pytest.raises(ValueError, match="level"):
        median_interval([1, 2], level=95)
