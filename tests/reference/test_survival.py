"""Right-censored survival against published values and a reference library."""

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from analytics.estimators.survival import kaplan_meier

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
    # Gehan 1965: 23 and 8 weeks.
    for control, median in ((0, 23), (1, 8)):
        found = kaplan_meier(*arm(remission, control))
        assert found.index[found["survival"] <= 0.5][0] == median


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
