"""Pooling against a published meta-analysis and another library."""

import numpy as np
import pytest

from analytics.estimators.pooling import dersimonian_laird, logit_normal

# Thirteen trials of BCG vaccine against tuberculosis: cases and others, vaccinated and not
# (Colditz et al., JAMA 1994;271:698).
TRIALS = [
    (4, 119, 11, 128),
    (6, 300, 29, 274),
    (3, 228, 11, 209),
    (62, 13536, 248, 12619),
    (33, 5036, 47, 5761),
    (180, 1361, 372, 1079),
    (8, 2537, 10, 619),
    (505, 87886, 499, 87892),
    (29, 7470, 45, 7232),
    (17, 1699, 65, 1600),
    (186, 50448, 141, 27197),
    (5, 2493, 3, 2338),
    (27, 16886, 29, 17825),
]


def test_the_moments_of_the_vaccine_trials() -> None:
    # R package metafor 3.8-1; log risk ratio -0.7141 (0.1787), tau2 0.3088, Q 152.23.
    a, b, c, d = np.array(TRIALS, dtype=float).T
    effect = np.log(a / (a + b) / (c / (c + d)))
    found = dersimonian_laird(effect, 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d))
    assert found.estimate == pytest.approx(-0.714117222073227, abs=1e-10)
    assert found.std_error == pytest.approx(0.178742089535403, abs=1e-10)
    assert found.tau2 == pytest.approx(0.308760262862376, abs=1e-10)
    assert found.q == pytest.approx(152.233008082373, abs=1e-9)
    assert 100 * found.i2 == pytest.approx(92.1173468545621, abs=1e-9)


def test_the_moments_equal_statsmodels() -> None:
    from statsmodels.stats.meta_analysis import combine_effects  # noqa: PLC0415  # heavy

    rng = np.random.default_rng(4)
    effects, variances = rng.normal(0.3, 0.5, 9), rng.uniform(0.02, 0.3, 9)
    theirs = combine_effects(effects, variances, method_re="chi2")
    ours = dersimonian_laird(effects, variances)
    assert ours.tau2 == pytest.approx(theirs.tau2, abs=1e-10)
    assert ours.estimate == pytest.approx(theirs.mean_effect_re, abs=1e-10)
    assert ours.std_error == pytest.approx(theirs.sd_eff_w_re, abs=1e-10)


def test_where_studies_are_large_the_model_agrees_with_their_logits() -> None:
    rng = np.random.default_rng(6)
    totals = np.full(60, 20000)
    events = rng.binomial(totals, 1 / (1 + np.exp(-rng.normal(-1, 0.4, 60))))
    ours = logit_normal(events, totals)
    logits = np.log(events / (totals - events))
    chance = np.mean(1 / events + 1 / (totals - events))
    assert np.log(ours.estimate / (1 - ours.estimate)) == pytest.approx(logits.mean(), abs=1e-3)
    assert ours.tau**2 == pytest.approx(logits.var() - chance, rel=0.01)
