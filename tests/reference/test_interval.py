"""Interval-censored events against published fits and another library."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analytics.estimators.inputs import Floats
from analytics.estimators.intersections import intersections
from analytics.estimators.interval import compare, incidence_at, turnbull
from analytics.estimators.interval_scores import finkelstein, spread

ROWS = pd.read_csv(Path(__file__).parent / "data" / "cosmesis.csv", comment="#")
LEFT, RIGHT = ROWS["left"].to_numpy(float), ROWS["right"].fillna(np.inf).to_numpy(float)
ALONE = (ROWS["treatment"] == "alone").to_numpy()

# Masses above nought: the vignette of the R package interval (Fay and Shaw, J Stat Softw
# 2010;36(2)); log-likelihoods by interval 1.1-1.0 and icenReg 2.0.16.
FITS = {
    "alone": (
        ALONE,
        -58.060021953991,
        {
            (4, 5): 0.046346768139325,
            (6, 7): 0.0333633920390847,
            (7, 8): 0.0886673497351419,
            (11, 12): 0.0707529248690571,
            (24, 25): 0.092645836585013,
            (33, 34): 0.0817857649025473,
            (38, 40): 0.120879827353835,
            (46, 48): 0.465558136375996,
        },
    ),
    "chemotherapy": (
        ~ALONE,
        -65.6369649076862,
        {
            (4, 5): 0.0432826277165792,
            (5, 8): 0.0432826277165792,
            (11, 12): 0.0692055843005651,
            (16, 17): 0.145397707125022,
            (18, 19): 0.141094978024576,
            (19, 20): 0.115745847358496,
            (24, 25): 0.0998653143059443,
            (30, 31): 0.0708813788039841,
            (35, 36): 0.16083110690181,
            (44, 48): 0.0552064138732218,
            (48, 60): 0.0552064138732218,
        },
    ),
    "both": (
        ALONE | True,
        -136.963803873852,
        {
            (4, 5): 0.0449490961464463,
            (6, 7): 0.0225930797474004,
            (7, 8): 0.0560382849501568,
            (11, 12): 0.0790460611607031,
            (16, 17): 0.0605455427188106,
            (18, 19): 0.0215575125085606,
            (19, 20): 0.144071623966642,
            (24, 25): 0.0497187981319682,
            (30, 31): 0.0911257060734256,
            (38, 39): 0.126447077109748,
            (46, 48): 0.18685817840125,
            (48, 60): 0.117049039084887,
        },
    ),
}


@pytest.mark.parametrize("name", FITS)
def test_the_fits_of_the_cosmesis_rows(name: str) -> None:
    who, log_likelihood, masses = FITS[name]
    found = turnbull(LEFT[who], RIGHT[who])
    assert found.log_likelihood == pytest.approx(log_likelihood, abs=1e-6)
    assert found.gap < 1e-8
    held = found.frame.loc[found.frame["mass"] > 1e-6]
    ends = list(zip(held["left"], held["right"], strict=True))
    assert ends == list(masses)
    assert held["mass"].to_list() == pytest.approx(list(masses.values()), abs=1e-6)


def test_suns_test_of_the_cosmesis_rows() -> None:
    # Fay and Shaw 2010: Z -2.6684, p 0.007622.
    found = compare(LEFT, RIGHT, ROWS["treatment"])
    assert found.z == pytest.approx(-2.6683871960706, abs=1e-5)
    assert found.p_value == pytest.approx(0.00762163671800201, abs=1e-7)
    assert found.frame.loc["alone", "score"] == pytest.approx(-9.14184644969477, abs=1e-5)
    assert found.p_permutation == pytest.approx(found.p_value, abs=0.003)


def test_finkelsteins_scores_of_the_cosmesis_rows() -> None:
    # Fay and Shaw 2010: Z -2.6839 by permutation, score 9.9442.
    runs = intersections(LEFT, RIGHT)
    scores = finkelstein(runs, turnbull(LEFT, RIGHT).frame["mass"].to_numpy())
    sums = np.array([scores[ALONE].sum(), scores[~ALONE].sum()])
    assert sums == pytest.approx([-9.94418246107498, 9.94418244670409], abs=1e-5)
    statistic = float(spread(scores, sums, np.array([46, 48])))
    assert statistic**0.5 == pytest.approx(2.68389610460474, abs=1e-5)


@pytest.mark.parametrize(
    ("month", "survival", "low", "high"),
    # Own bootstrap of the companion kernel, percentile limits: they need not be these, but near.
    [(12, 0.761, 0.652, 0.928), (24, 0.761, 0.616, 0.870), (36, 0.586, 0.437, 0.755)],
)
def test_the_incidence_of_the_cosmesis_rows(
    month: int, survival: float, low: float, high: float
) -> None:
    found = incidence_at(LEFT[ALONE], RIGHT[ALONE], month)
    assert 1 - found.estimate == pytest.approx(survival, abs=5e-4)
    assert (1 - found.high, 1 - found.low) == pytest.approx((low, high), abs=0.07)


def random_rows(seed: int) -> tuple[Floats, Floats]:
    """Return rows of one of five kinds: looks, ties, exact days, open ends, or all together."""
    rng = np.random.default_rng(seed)
    size = int(rng.integers(2, 150))
    kind = seed % 5
    left = rng.random(size) * 20 if kind == 2 else rng.integers(0, 25, size).astype(float)
    right = left + (rng.exponential(4, size) if kind == 2 else rng.integers(1, 12, size))
    if kind in (1, 4):
        known = rng.random(size) < 0.4
        left, right = np.where(known, left + 1, left), np.where(known, left + 1, right)
    if kind in (3, 4):
        right = np.where(rng.random(size) < 0.5, np.inf, right)
    return left, right


@pytest.mark.filterwarnings("ignore::Warning")
@pytest.mark.parametrize("seed", range(40))
def test_the_likelihood_is_that_of_surpyval_on_random_rows(seed: int) -> None:
    from surpyval import Turnbull  # noqa: PLC0415  # heavy

    left, right = random_rows(seed)
    theirs = Turnbull.fit(xl=left, xr=right, turnbull_estimator="Kaplan-Meier")
    ours = turnbull(left, right)
    # Their curve is asked for at each row's ends; where a row is a day, just before it.
    curve = pd.Series(theirs.R).groupby(theirs.x).min()
    days, behind = curve.index.to_numpy(), np.concatenate([[1.0], curve.to_numpy()])

    def survival(at: Floats, side: str) -> Floats:
        return behind[np.searchsorted(days, at, side=side)]

    begin = np.where(left == right, survival(left, "left"), survival(left, "right"))
    end = np.where(np.isinf(right), 0.0, survival(right, "right"))
    value = float(np.log(begin - end).sum())
    assert ours.log_likelihood == pytest.approx(value, abs=1e-8)
