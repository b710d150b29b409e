from collections import Counter

import numpy as np
import pytest

from analytics.estimators.interval import turnbull
from analytics.estimators.interval_bootstrap import resampled


def test_each_sample_is_the_fit_of_its_own_rows() -> None:
    rng = np.random.default_rng(2)
    left = rng.integers(0, 20, 60).astype(float)
    right = np.where(rng.random(60) < 0.5, np.inf, left + rng.integers(1, 8, 60))
    horizons = np.array([4.0, 9.5, 18.0])
    found = resampled(left, right, horizons, 40, seed=7)
    # The same draws of the distinct intervals, in the order of their coming, each fitted alone.
    ends = Counter(zip(left, right, strict=True))
    chances = np.array(list(ends.values())) / 60
    counts = np.random.default_rng(7).multinomial(60, chances, size=40)
    for drawn, shares in zip(counts, found, strict=True):
        alone = turnbull(*np.repeat(list(ends), drawn, axis=0).T).cdf(horizons)
        assert shares == pytest.approx((alone.lower + alone.upper) / 2, abs=2e-3)


def test_where_all_is_known_it_varies_as_a_binomial_share() -> None:
    happened = np.arange(400) < 60
    left, right = np.where(happened, 0.0, 30.0), np.where(happened, 10.0, np.inf)
    found = resampled(left, right, np.array([20.0]), 4000, seed=1)
    assert found.mean() == pytest.approx(0.15, abs=0.002)
    assert found.std() == pytest.approx((0.15 * 0.85 / 400) ** 0.5, rel=0.04)


def test_a_seed_gives_the_same_samples_and_another_gives_others() -> None:
    left, right = np.array([0.0, 2.0, 4.0]), np.array([3.0, 5.0, np.inf])
    one, same, other = (resampled(left, right, np.array([3.0]), 50, seed) for seed in (1, 1, 2))
    assert one.tolist() == same.tolist() != other.tolist()
