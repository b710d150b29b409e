import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.balance import difference_of_means, difference_of_shares


def test_means_are_compared_in_standard_deviations() -> None:
    # By hand: means 4 and 2, variances 4 and 2.
    assert difference_of_means([2, 4, 6], [1, 1, 4, 2, 2]) == pytest.approx(2 / math.sqrt(2.75))


def test_shares_are_compared_in_standard_deviations() -> None:
    # By hand: 0.2 over the root of (0.25 + 0.21) / 2.
    assert difference_of_shares(0.5, 0.3) == pytest.approx(0.2 / math.sqrt(0.23))
    assert difference_of_shares(0.3, 0.5) == -difference_of_shares(0.5, 0.3)


def test_a_published_table_is_met() -> None:
    # Age 50.54 (SD 17.23) against 63.04 (12.87) is 0.822, male 0.599 against 0.670 is 0.147: the
    # standardised differences printed with these by the worked example of a public course on
    # propensity weighting (ehsanx.github.io/psw, chapter 6).
    def with_moments(mean: float, deviation: float) -> list[float]:
        half = deviation / math.sqrt(2)
        return [mean - half, mean + half]

    found = difference_of_means(with_moments(50.54, 17.23), with_moments(63.04, 12.87))
    assert found == pytest.approx(-0.822, abs=5e-4)
    assert difference_of_shares(0.599, 0.670) == pytest.approx(-0.147, abs=2e-3)


def test_missing_values_are_left_out_and_too_few_are_none() -> None:
    whole = difference_of_means([2, 4, 6], [1, 2])
    assert difference_of_means([2, np.nan, 4, 6], [1, 2, np.nan]) == whole
    assert difference_of_means([2], [1, 2]) is None
    assert difference_of_means([], [1, 2]) is None


def test_groups_that_do_not_vary_are_equal_or_infinitely_far() -> None:
    assert difference_of_means([3, 3], [3, 3]) == 0
    assert difference_of_means([3, 3], [4, 4]) == -math.inf
    assert difference_of_shares(0, 0) == 0
    assert difference_of_shares(1, 0) == math.inf


def test_a_share_outside_its_range_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1, got 50"):
        difference_of_shares(0.5, 50)


@given(st.lists(st.integers(0, 1), min_size=2), st.lists(st.integers(0, 1), min_size=2))
def test_a_share_is_the_mean_of_ones_and_noughts(one: list[int], two: list[int]) -> None:
    by_share = difference_of_shares(float(np.mean(one)), float(np.mean(two)))
    by_mean = difference_of_means(one, two)
    assert by_mean is not None
    if math.isfinite(by_share):
        # The variance of a sample is larger by n / (n - 1).
        assert abs(by_mean) <= abs(by_share) + 1e-12
        assert np.sign(by_mean) == np.sign(by_share) or by_share == pytest.approx(0)
    else:
        assert by_mean == by_share
