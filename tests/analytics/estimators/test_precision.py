import numpy as np
import pytest
from scipy.stats import binom
from statsmodels.stats.proportion import confint_proportions_2indep, power_proportions_2indep

from analytics.estimators.precision import (
    detectable,
    expected_interval,
    expected_width,
    power,
)
from analytics.estimators.proportions import newcombe_difference

CASES = [
    (0.05, 100, 0.15, 100),
    (0.10, 50, 0.30, 50),
    (0.20, 60, 0.40, 120),
    (0.10, 200, 0.20, 200),
    (0.02, 150, 0.08, 300),
]


def slowly(p1: float, n1: int, p2: float, n2: int) -> tuple[float, float]:
    """Return expected width and power by asking for the interval of each pair of counts."""
    width = told = 0.0
    for one in range(n1 + 1):
        for two in range(n2 + 1):
            weight = binom.pmf(one, n1, p1) * binom.pmf(two, n2, p2)
            interval = newcombe_difference(one, n1, two, n2)
            width += weight * (interval.high - interval.low)
            told += weight * (interval.low > 0 or interval.high < 0)
    return width, told


@pytest.mark.parametrize("case", [(0.1, 12, 0.4, 9), (0.0, 8, 0.5, 10), (1.0, 5, 0.3, 7)])
def test_all_outcomes_are_summed(case: tuple[float, int, float, int]) -> None:
    width, told = slowly(*case)
    assert expected_width(*case) == pytest.approx(width, abs=1e-9)
    assert power(*case) == pytest.approx(told, abs=1e-9)


def test_the_expected_interval_lies_around_the_difference() -> None:
    found = expected_interval(0.1, 200, 0.3, 200)
    assert found.estimate == pytest.approx(-0.2)
    assert found.low < -0.2 < found.high < 0
    assert found.high - found.low == expected_width(0.1, 200, 0.3, 200)
    turned = expected_interval(0.3, 200, 0.1, 200)
    assert (turned.low, turned.high) == pytest.approx((-found.high, -found.low))


def test_power_is_near_the_printed_example_of_r() -> None:
    # R's help of power.prop.test prints 0.740 for 50 a group, 0.50 against 0.75, and 76.7 a group for
    # 90 %; that is a normal approximation, this is exact for another test: within 0.01.
    assert power(0.50, 50, 0.75, 50) == pytest.approx(0.740, abs=0.01)
    assert power(0.50, 77, 0.75, 77) == pytest.approx(0.90, abs=0.01)


@pytest.mark.parametrize("case", CASES)
def test_power_is_near_that_of_the_z_test(case: tuple[float, int, float, int]) -> None:
    p1, n1, p2, n2 = case
    approximate = power_proportions_2indep(p1 - p2, p2, n1, ratio=n2 / n1, return_results=False)
    assert power(*case) == pytest.approx(approximate, abs=0.015)


def test_drawn_samples_give_the_same_width_and_power() -> None:
    random = np.random.default_rng(20261129)
    p1, n1, p2, n2 = 0.10, 40, 0.30, 60
    widths, told = [], []
    for _ in range(2000):
        one, two = random.binomial(n1, p1), random.binomial(n2, p2)
        low, high = confint_proportions_2indep(one, n1, two, n2, method="newcomb")
        widths.append(high - low)
        told.append(low > 0 or high < 0)
    # Three standard errors of 2,000 draws.
    assert expected_width(p1, n1, p2, n2) == pytest.approx(np.mean(widths), abs=0.003)
    assert power(p1, n1, p2, n2) == pytest.approx(np.mean(told), abs=0.034)


def test_equal_shares_are_told_apart_about_once_in_twenty() -> None:
    assert 0.02 < power(0.1, 100, 0.1, 100) < 0.06


def test_more_cases_make_the_interval_narrower() -> None:
    widths = [expected_width(0.1, n, 0.2, n) for n in (10, 20, 50, 100, 400)]
    assert widths == sorted(widths, reverse=True)
    # A hundred times as many: a tenth as wide.
    ratio = expected_width(0.3, 20000, 0.3, 20000) / expected_width(0.3, 200, 0.3, 200)
    assert ratio == pytest.approx(0.1, abs=0.002)


def test_the_nearest_shares_that_can_be_told_apart_are_found() -> None:
    low, high = detectable(0.1, 100, 100)
    assert low is not None
    assert high is not None
    assert 0 < low < 0.1 < high < 1
    for found, nearer in ((low, low + 0.001), (high, high - 0.001)):
        assert power(found, 100, 0.1, 100) >= 0.8 > power(nearer, 100, 0.1, 100)


def test_a_side_on_which_nothing_can_be_told_apart_is_none() -> None:
    assert detectable(0.05, 20, 20)[0] is None
    assert detectable(0.0, 30, 30)[0] is None
    assert detectable(0.5, 2, 2) == (None, None)


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ((10, 50, 0.2, 50), "a share must lie between 0 and 1, got 10"),
        ((0.1, 0, 0.2, 50), "at least 1, got 0"),
        ((0.1, 5, 0.2, 2.5), "whole number"),
    ],
)
def test_what_cannot_be_is_refused(case: tuple[float, int, float, int], words: str) -> None:
    for call in (expected_width, power):
        with pytest.raises(ValueError, match=words):
            call(*case)


def test_a_level_and_a_power_lie_between_nought_and_one() -> None:
    with pytest.raises(ValueError, match="level"):
        power(0.1, 10, 0.2, 10, level=95)
    with pytest.raises(ValueError, match="power"):
        detectable(0.1, 10, 10, wanted=80)
