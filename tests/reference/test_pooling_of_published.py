"""The shipped counts of osteolysis under hook plates, pooled here and by an independent path.

The independent path maximises the same likelihood written anew with numerical integration on a fine
grid, and is held against a generalised linear mixed model only in what both must give; the counts are
the papers' (fixtures/published_counts.json).
"""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import expit
from scipy.stats import binom, norm

from analytics.estimators.pooling import logit_normal
from analytics.selectors.literature import published

GRID = np.linspace(-9, 9, 4001)


def counts() -> tuple[list[int], list[int]]:
    rows = [
        row
        for row in published().counts
        if (row.construct, row.endpoint) == ("HP", "subacromial_osteolysis")
    ]
    return [row.events for row in rows], [row.total for row in rows]


def minus_log_likelihood(parameters: np.ndarray, events: list[int], totals: list[int]) -> float:
    mean, log_tau = parameters
    weight = norm.pdf(GRID)
    share = expit(mean + np.exp(log_tau) * GRID)
    each = [
        np.trapezoid(binom.pmf(k, n, share) * weight, GRID)
        for k, n in zip(events, totals, strict=True)
    ]
    return -float(np.log(each).sum())


def test_the_pooled_share_and_its_deviation_agree_with_the_slow_path() -> None:
    events, totals = counts()
    assert (len(events), sum(events), sum(totals)) == (9, 169, 347)
    slow = minimize(
        minus_log_likelihood,
        [0.0, 0.0],
        (events, totals),
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-10},
    )
    found = logit_normal(events, totals)
    assert found.log_likelihood == pytest.approx(-slow.fun, abs=1e-6)
    assert found.estimate == pytest.approx(float(expit(slow.x[0])), abs=1e-5)
    assert found.tau == pytest.approx(float(np.exp(slow.x[1])), abs=1e-4)


def test_so_different_series_leave_almost_everything_possible_for_one_more_unit() -> None:
    found = logit_normal(*counts())
    assert found.prediction_low < 0.05
    assert found.prediction_high > 0.9
