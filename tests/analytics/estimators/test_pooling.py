import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.special import expit, log_expit, logsumexp
from scipy.stats import norm

from analytics.estimators.pooling import dersimonian_laird, log_likelihood, logit_normal
from analytics.estimators.proportions import clopper_pearson

STUDIES = ([4, 3, 10, 0, 2, 7], [30, 28, 55, 17, 40, 22])


def plain(events: list[int], totals: list[int], mean: float, tau: float) -> float:
    """Sum each study's likelihood over the normal share on a fine, even grid."""
    grid = np.linspace(-40, 40, 16001)
    below, above = log_expit(-(mean + tau * grid)), log_expit(mean + tau * grid)
    total = 0.0
    for count, size in zip(events, totals, strict=True):
        inner = count * above + (size - count) * below + norm.logpdf(grid)
        total += math.log(math.comb(size, count)) + logsumexp(inner) + math.log(80 / 16000)
    return total


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(30, 400)), min_size=2, max_size=5),
    st.floats(-5, 2),
    st.floats(0.05, 2.5),
)
def test_the_likelihood_is_that_of_plain_integration(
    studies: list[tuple[int, int]], mean: float, tau: float
) -> None:
    events, totals = (list(column) for column in zip(*studies, strict=True))
    found = log_likelihood(np.array(events, float), np.array(totals, float), mean, tau)
    assert found == pytest.approx(plain(events, totals, mean, tau), abs=1e-6)


def test_the_fit_is_the_highest_that_a_plain_search_finds() -> None:
    found = logit_normal(*STUDIES)
    best = minimize(
        lambda at: -plain(*STUDIES, at[0], abs(at[1])),
        [-1.5, 0.3],
        method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-11},
    )
    assert found.log_likelihood == pytest.approx(-best.fun, abs=1e-8)
    assert found.estimate == pytest.approx(expit(best.x[0]), abs=1e-5)
    assert found.tau == pytest.approx(abs(best.x[1]), abs=1e-4)


def test_at_its_limits_the_best_likelihood_has_fallen_by_half_a_chi_square() -> None:
    found = logit_normal(*STUDIES)
    for limit in (found.low, found.high):
        mean = math.log(limit / (1 - limit))
        best = max(plain(*STUDIES, mean, tau) for tau in np.linspace(0.05, 2.5, 246))
        assert found.log_likelihood - best == pytest.approx(3.841459 / 2, abs=1e-3)


def test_the_standard_error_is_that_of_both_parameters_together() -> None:
    found = logit_normal(*STUDIES)
    mean, tau, h = math.log(found.estimate / (1 - found.estimate)), found.tau, 1e-2
    grid = {
        (a, b): plain(*STUDIES, mean + a * h, tau + b * h) for a in (-1, 0, 1) for b in (-1, 0, 1)
    }
    hessian = np.empty((2, 2))
    hessian[0, 0] = (grid[1, 0] - 2 * grid[0, 0] + grid[-1, 0]) / h**2
    hessian[1, 1] = (grid[0, 1] - 2 * grid[0, 0] + grid[0, -1]) / h**2
    mixed = (grid[1, 1] - grid[1, -1] - grid[-1, 1] + grid[-1, -1]) / (4 * h**2)
    hessian[0, 1] = hessian[1, 0] = mixed
    assert found.std_error == pytest.approx(np.linalg.inv(-hessian)[0, 0] ** 0.5, rel=1e-3)


def test_the_prediction_holds_the_studies_and_is_wider_than_the_interval() -> None:
    found = logit_normal(*STUDIES)
    assert found.prediction_low < found.low < found.estimate < found.high < found.prediction_high
    # t with 4 degrees of freedom at 97.5 per cent is 2.7764 (any table).
    half = 2.7764 * math.hypot(found.tau, found.std_error)
    mean = math.log(found.estimate / (1 - found.estimate))
    assert found.prediction_high == pytest.approx(expit(mean + half), abs=1e-5)


def test_studies_that_agree_are_one_large_study() -> None:
    found = logit_normal([5, 5, 5], [50, 50, 50])
    assert (found.estimate, found.tau) == (pytest.approx(0.1, abs=1e-7), 0)
    assert found.std_error == pytest.approx((150 * 0.1 * 0.9) ** -0.5, rel=1e-5)


def test_the_truth_of_many_studies_is_recovered() -> None:
    rng = np.random.default_rng(5)
    totals = rng.integers(20, 150, 400)
    events = rng.binomial(totals, expit(rng.normal(-1.5, 0.6, totals.size)))
    found = logit_normal(events, totals)
    assert found.low < expit(-1.5) < found.high
    assert found.tau == pytest.approx(0.6, abs=0.08)
    shares = expit(rng.normal(-1.5, 0.6, 20000))
    inside = np.mean((shares > found.prediction_low) & (shares < found.prediction_high))
    assert inside == pytest.approx(0.95, abs=0.02)


def test_large_studies_far_apart_are_integrated_where_they_lie() -> None:
    found = logit_normal([500, 9000, 1000], [50000, 10000, 50000])
    assert found.tau > 2
    assert 0 < found.low < found.estimate < found.high < 1


@pytest.mark.parametrize(("events", "share"), [([0, 0], 0.0), ([12, 9], 1.0)])
def test_where_nobody_or_everybody_had_it_the_sums_are_exact(
    events: list[int], share: float
) -> None:
    found = logit_normal(events, [12, 9])
    exact = clopper_pearson(sum(events), 21)
    assert (found.estimate, found.low, found.high) == (share, exact.low, exact.high)
    assert math.isnan(found.tau)
    assert math.isnan(found.prediction_high)
    assert "exact" in found.method


def test_two_studies_predict_no_third() -> None:
    found = logit_normal([3, 9], [30, 30])
    assert math.isnan(found.prediction_low)
    assert 0 < found.low < found.high < 1


def test_a_lower_level_is_narrower() -> None:
    wide, narrow = logit_normal(*STUDIES), logit_normal(*STUDIES, level=0.8)
    assert wide.low < narrow.low < narrow.high < wide.high


def test_effects_without_spread_have_no_variance_between_them() -> None:
    found = dersimonian_laird([0.4, 0.4], [0.1, 0.3])
    assert (found.estimate, found.tau2, found.q, found.i2) == (0.4, 0, 0, 0)
    assert found.std_error == pytest.approx((1 / 0.1 + 1 / 0.3) ** -0.5)
    assert found.p_value == 1


@pytest.mark.parametrize(
    ("events", "totals", "level", "words"),
    [
        ([], [], 0.95, "at least one value"),
        ([1], [10], 0.95, "at least two studies"),
        ([1, 2], [10], 0.95, "at least two studies"),
        ([1, 2], [10, 0], 0.95, "totals must be whole numbers above 0"),
        ([1, 11], [10, 10], 0.95, "none above its total"),
        ([1, 2.5], [10, 10], 0.95, "events must be whole numbers"),
        ([1, -2], [10, 10], 0.95, "must not be negative"),
        ([1, np.nan], [10, 10], 0.95, "missing"),
        ([1, 2], [10, 10], 95, "the level must lie"),
    ],
)
def test_studies_that_cannot_be_are_refused(
    events: list[float], totals: list[float], level: float, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        logit_normal(events, totals, level)


@pytest.mark.parametrize(
    ("effects", "variances", "words"),
    [
        ([0.1], [0.1], "two studies or more"),
        ([0.1, 0.2], [0.1], "two studies or more"),
        ([0.1, np.nan], [0.1, 0.1], "effects must be finite"),
        ([0.1, 0.2], [0.1, 0.0], "variances above 0"),
    ],
)
def test_effects_that_cannot_be_are_refused(
    effects: list[float], variances: list[float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        dersimonian_laird(effects, variances)
