"""Right-censored survival against published values and a reference library."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from analytics.estimators.survival import kaplan_meier, logrank, rmst

DATA = Path(__file__).parent / "data"

# lifelines 0.30.0 under pandas 3 warns of its own future.
pytestmark = pytest.mark.filterwarnings("ignore::Warning:lifelines", "ignore:.*keyword-only")

# Remission in leukaemia: Freireich et al., Blood 1963;21:699; the data come with lifelines (MIT).
# Survival and Greenwood errors as in Kalbfleisch and Prentice and in Klein and Moeschberger (the
# errors from memory, reproduced by R survival 3.5-3); log-log limits computed by the same.
TREATED = pd.DataFrame(
    {
        "at_risk": [21, 17, 15, 12, 11, 7, 6],
        "survival": [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482],
        "std_error": [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346],
        "low": [0.6197, 0.5631, 0.5032, 0.4316, 0.3675, 0.2678, 0.1881],
        "high": [0.9516, 0.9228, 0.8894, 0.8491, 0.8049, 0.7468, 0.6801],
    },
    index=[6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0],
)
PLACEBO = [0.9048, 0.8095, 0.7619, 0.6667, 0.5714, 0.3810, 0.2857, 0.1905, 0.1429, 0.0952, 0.0476]


@pytest.fixture(scope="module")
def remission() -> pd.DataFrame:
    from lifelines.datasets import load_leukemia  # noqa: PLC0415  # heavy, and for this file only

    return load_leukemia()


def arm(remission: pd.DataFrame, control: int) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    rows = remission.loc[remission["Rx"] == control]
    return rows["t"].to_numpy(), rows["status"].to_numpy()


def test_remission_under_treatment_is_as_published(remission: pd.DataFrame) -> None:
    found = kaplan_meier(*arm(remission, 0)).loc[list(TREATED.index), list(TREATED.columns)]
    assert found.to_numpy() == pytest.approx(TREATED.to_numpy(), abs=5e-5)


def test_remission_under_placebo_is_as_published_and_ends_at_zero(remission: pd.DataFrame) -> None:
    found = kaplan_meier(*arm(remission, 1))
    assert found["survival"].to_list() == pytest.approx([*PLACEBO, 0.0], abs=5e-5)
    assert np.isnan(found["std_error"].iloc[-1])
    assert (found[["low", "high"]].iloc[-1] == 0).all()


def test_medians_are_as_published(remission: pd.DataFrame) -> None:
    # Gehan 1965: 23 and 8 weeks. Their limits, where a log-log limit first comes to a half, by R
    # survival 3.5-3: from 13 without end, and 4 to 11.
    for control, median, low, high in ((0, 23, 13, None), (1, 8, 4, 11)):
        found = kaplan_meier(*arm(remission, control))
        firsts = [
            next((week for week, value in found[column].items() if value <= 0.5), None)
            for column in ("survival", "low", "high")
        ]
        assert firsts == [median, low, high]


def test_lung_cancer_survival_is_as_computed_by_r() -> None:
    # Loprinzi et al. 1994, data with lifelines; values by R survival 3.5-3.
    from lifelines.datasets import load_lung  # noqa: PLC0415

    rows = load_lung()
    found = kaplan_meier(rows["time"], rows["status"])
    shown = [found.loc[found.index <= day].iloc[-1] for day in (180, 365, 730)]
    assert [row["survival"] for row in shown] == pytest.approx(
        [0.721670653409762, 0.409241624460064, 0.115693098344539], abs=1e-9
    )
    assert [row["std_error"] for row in shown] == pytest.approx(
        [0.0298124194686373, 0.0358236381720378, 0.0282981973176942], abs=1e-9
    )


@pytest.mark.parametrize("seed", range(4))
def test_the_curve_equals_lifelines_on_random_data_with_ties_and_late_entry(seed: int) -> None:
    from lifelines import KaplanMeierFitter  # noqa: PLC0415

    rng = np.random.default_rng(seed)
    entry = rng.integers(0, 5, 300)
    times = entry + rng.integers(1, 40, 300)
    happened = rng.integers(0, 2, 300)
    weights = rng.integers(1, 4, 300)
    theirs = KaplanMeierFitter().fit(times, happened, entry=entry, weights=weights)
    ours = kaplan_meier(times, happened, entry=entry, weights=weights)
    limits = theirs.confidence_interval_.reindex(ours.index)
    expected = theirs.survival_function_.reindex(ours.index).iloc[:, 0]
    assert ours["survival"].to_numpy() == pytest.approx(expected.to_numpy(), abs=1e-8)
    inside = ours["survival"].between(0, 1, inclusive="neither").to_numpy()
    assert ours["low"].to_numpy()[inside] == pytest.approx(
        limits.iloc[:, 0].to_numpy()[inside], abs=1e-8
    )
    assert ours["high"].to_numpy()[inside] == pytest.approx(
        limits.iloc[:, 1].to_numpy()[inside], abs=1e-8
    )


def test_hazard_adds_up_as_computed_by_r(remission: pd.DataFrame) -> None:
    # Klein and Moeschberger, section 4.2, of the same data; digits by R survival 3.5-3.
    found = kaplan_meier(*arm(remission, 0))
    found = found[found["events"] > 0]
    assert (found["events"] / found["at_risk"]).cumsum().to_list() == pytest.approx(
        [0.142857, 0.201681, 0.268347, 0.351681, 0.442590, 0.585447, 0.752114], abs=5e-7
    )
    variance = (found["events"] / found["at_risk"] ** 2).cumsum()
    assert np.sqrt(variance).to_list() == pytest.approx(
        [0.0824786, 0.1013061, 0.1212740, 0.1471456, 0.1729632, 0.2243311, 0.2794677], abs=5e-8
    )


def test_remission_by_arm_differs_as_published(remission: pd.DataFrame) -> None:
    # 16.79 read in public test suites; observed and expected, and the early-weighted value, by R
    # survival 3.5-3.
    found = logrank(remission["t"], remission["status"], remission["Rx"])
    assert found.statistic == pytest.approx(16.7929409892165, abs=1e-9)
    assert found.p_value == pytest.approx(4.16880910933948e-05, rel=1e-8)
    assert found.frame["observed"].to_list() == [9, 21]
    assert found.frame["expected"].to_list() == pytest.approx([19.2505009480311, 10.7494990519689])
    early = logrank(remission["t"], remission["status"], remission["Rx"], rho=1)
    assert early.statistic == pytest.approx(14.4571508187171, abs=1e-9)
    gap = (found.frame["observed"] - found.frame["expected"]).iloc[0]
    assert gap**2 / found.statistic == pytest.approx(6.2569605736755)


# R survival 3.5-3; the first three also from memory of its help: 10.3, 1.1 and 3.4.
LOGRANKS = [
    ("ovarian", "days", "treatment", None, 1.06273986129141, 1),
    ("aml", "weeks", "arm", None, 3.3963886989776, 1),
    ("veteran", "days", "treatment", "cell", 0.701743346844319, 1),
    ("veteran", "days", "cell", None, 25.4037003457854, 3),
]


@pytest.mark.parametrize(("file", "time", "group", "stratum", "statistic", "df"), LOGRANKS)
def test_trials_differ_by_arm_as_computed_by_r(
    file: str, time: str, group: str, stratum: str | None, statistic: float, df: int
) -> None:
    rows = pd.read_csv(DATA / f"{file}.csv", comment="#")
    strata = rows[stratum] if stratum else None
    found = logrank(rows[time], rows["status"], rows[group], strata=strata)
    assert found.statistic == pytest.approx(statistic, abs=1e-8)
    assert found.df == df


def test_lung_cancer_differs_by_sex_as_computed_by_r() -> None:
    from lifelines.datasets import load_lung  # noqa: PLC0415

    rows = load_lung()
    found = logrank(rows["time"], rows["status"], rows["sex"])
    assert found.statistic == pytest.approx(10.3267419548856, abs=1e-8)
    assert found.frame["expected"].to_list() == pytest.approx([91.5817390295728, 73.4182609704272])


def test_mean_time_in_remission_is_as_computed_by_r(remission: pd.DataFrame) -> None:
    # R survival 3.5-3, to 20 weeks.
    for control, mean, std_error in (
        (0, 16.1165266106443, 1.25156019600505),
        (1, 8.42857142857143, 1.26808268250392),
    ):
        found = rmst(*arm(remission, control), 20)
        assert (found.estimate, found.std_error) == pytest.approx((mean, std_error), abs=1e-9)


def test_mean_time_in_the_cholangitis_trial_is_as_published() -> None:
    # The vignette of the R package survRM2 (Uno et al.; from memory, reproduced by survRM2 1.0-4):
    # to 10 years 7.146 (0.283) and 7.283 (0.295), difference -0.137 (-0.939 to 0.665), p 0.738.
    rows = pd.read_csv(DATA / "pbc.csv", comment="#").dropna(subset=["treatment"])
    assert len(rows) == 312
    arms = {}
    for treatment, mean, std_error, low, high in (
        (1, 7.14649299629878, 0.282774849563295, 6.59226447542099, 7.70072151717657),
        (2, 7.28341576116826, 0.295478092235593, 6.70428934216589, 7.86254217018062),
    ):
        mine = rows[rows["treatment"] == treatment]
        found = arms[treatment] = rmst(mine["days"] / 365.25, mine["status"] == 2, 10)
        assert (found.estimate, found.std_error) == pytest.approx((mean, std_error), abs=1e-9)
        assert (found.low, found.high) == pytest.approx((low, high), abs=1e-8)
    difference = arms[1].estimate - arms[2].estimate
    half = 1.959963985 * np.hypot(arms[1].std_error, arms[2].std_error)
    assert (difference, difference - half, difference + half) == pytest.approx(
        (-0.136922764869478, -0.938519086306202, 0.664673556567245), abs=1e-7
    )
    assert arms[1].estimate / arms[2].estimate == pytest.approx(0.98120074847306)


@pytest.mark.parametrize("seed", range(3))
def test_tests_of_groups_equal_statsmodels_and_lifelines_on_random_data(seed: int) -> None:
    from lifelines.statistics import multivariate_logrank_test  # noqa: PLC0415
    from statsmodels.duration.survfunc import survdiff  # noqa: PLC0415

    rng = np.random.default_rng(seed)
    times, happened = rng.integers(1, 40, 300), rng.integers(0, 2, 300)
    groups, strata = rng.integers(0, 4, 300), rng.integers(0, 3, 300)
    plain, within = (logrank(times, happened, groups, strata=one) for one in (None, strata))
    theirs = multivariate_logrank_test(times, groups, happened)
    assert plain.statistic == pytest.approx(theirs.test_statistic, abs=1e-8)
    assert plain.p_value == pytest.approx(theirs.p_value, abs=1e-8)
    for found, extra in ((plain, {}), (within, {"strata": strata})):
        statistic, p_value = survdiff(times, happened, groups, **extra)
        assert found.statistic == pytest.approx(statistic, abs=1e-8)
        assert found.p_value == pytest.approx(p_value, abs=1e-8)


@pytest.mark.parametrize("seed", range(3))
def test_mean_time_equals_lifelines_on_random_data(seed: int) -> None:
    from lifelines import KaplanMeierFitter  # noqa: PLC0415
    from lifelines.utils import restricted_mean_survival_time  # noqa: PLC0415

    rng = np.random.default_rng(seed)
    times, happened = rng.integers(1, 60, 200), rng.integers(0, 2, 200)
    theirs = restricted_mean_survival_time(KaplanMeierFitter().fit(times, happened), t=45)
    # It adds up the area by quadrature.
    assert rmst(times, happened, 45).estimate == pytest.approx(theirs, rel=1e-6)
