import math
import warnings
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq, minimize

from analytics.estimators.partial_likelihood import PartialLikelihood
from analytics.estimators.penalised_likelihood import PenalisedLogistic
from analytics.estimators.regression import cox, logistic_firth


def cases(seed: int, size: int = 120) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    columns = pd.DataFrame(
        {
            "age": rng.integers(18, 80, size),
            "distal": rng.integers(0, 2, size),
            "mm": rng.normal(size=size),
        }
    )
    risk = np.exp(0.02 * (columns["age"] - 50) + 0.6 * columns["distal"])
    times = np.ceil(rng.exponential(30 / risk)).clip(2, 60)
    entry = np.minimum(rng.integers(0, 6, size), times - 1)
    happened = rng.integers(0, 2, size)
    return {"durations": times, "observed": happened, "X": columns, "entry": entry}


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_cox_equals_statsmodels_on_random_tied_data(seed: int, late: bool, ties: Any) -> None:
    from statsmodels.duration.hazard_regression import PHReg  # noqa: PLC0415  # heavy

    given = cases(seed)
    # The library counts who enters at an event time as at risk at it.
    entry = given["entry"] + 1e-6 if late else None
    theirs = PHReg(
        given["durations"], given["X"], status=given["observed"], entry=entry, ties=ties
    ).fit()
    found = cox(**{**given, "entry": given["entry"] if late else None}, ties=ties)
    assert found.frame["coef"].to_numpy() == pytest.approx(theirs.params, rel=1e-6, abs=1e-8)
    assert found.frame["std_error"].to_numpy() == pytest.approx(theirs.bse, rel=1e-6)
    assert found.frame["p_value"].to_numpy() == pytest.approx(theirs.pvalues, rel=1e-5)
    assert found.frame[["low", "high"]].to_numpy() == pytest.approx(theirs.conf_int(), rel=1e-5)
    assert found.log_likelihood == pytest.approx(theirs.llf, abs=1e-6)
    assert found.converged
    assert found.gap < 1e-12


@pytest.mark.filterwarnings("ignore::Warning:lifelines", "ignore:.*keyword-only")
def test_cox_equals_lifelines_as_far_as_that_goes() -> None:
    from lifelines import CoxPHFitter  # noqa: PLC0415  # heavy

    given = cases(7)
    rows = given["X"].assign(t=given["durations"], e=given["observed"])
    theirs = CoxPHFitter().fit(rows, "t", "e")
    found = cox(given["durations"], given["observed"], given["X"])
    assert list(found.frame.index) == list(theirs.params_.index)
    # It stops early: up to 8e-5 from the maximum.
    assert found.frame["coef"].to_numpy() == pytest.approx(theirs.params_.to_numpy(), abs=1e-4)


def test_units_of_a_covariate_change_its_coefficient_only() -> None:
    given = cases(3)
    days = {**given, "X": given["X"].assign(age=given["X"]["age"] * 365.25 + 1e4)}
    one, two = cox(**given).frame, cox(**days).frame
    assert two.loc["age", "coef"] * 365.25 == pytest.approx(one.loc["age", "coef"])
    assert two.loc["mm"].to_list() == pytest.approx(one.loc["mm"].to_list())
    assert two.loc["age", "p_value"] == pytest.approx(one.loc["age", "p_value"])


PARTED = pd.DataFrame({"hook": [1, 1, 1, 0, 0, 0], "age": [3, 1, 2, 2, 5, 4]})


@pytest.mark.parametrize("turn", [1, -1])
def test_events_parted_without_overlap_are_said_to_be(turn: int) -> None:
    times, happened = [1, 2, 3, 4, 5, 6], [1, 1, 1, 0, 0, 0]
    found = cox(times, happened, PARTED.assign(hook=turn * PARTED["hook"]))
    assert found.infinite == ("hook",)
    assert not found.converged
    assert "No finite estimate for hook" in found.note
    assert found.frame.loc["hook", "coef"] == turn * math.inf
    assert math.isnan(found.frame.loc["hook", "std_error"])
    ends = found.frame.loc["hook", ["low", "high"]].to_list()
    assert ends[turn > 0] == turn * math.inf
    assert math.isfinite(ends[turn < 0])


def test_beside_an_infinite_estimate_the_others_are_those_of_the_limit() -> None:
    times, happened = [1, 2, 3, 4, 5, 6], [1, 1, 1, 0, 0, 0]
    found = cox(times, happened, PARTED)
    # In the limit only those with the hook are ever at risk at an event.
    limit = cox(times[:3], happened[:3], PARTED[["age"]][:3])
    assert found.frame.loc["age"].to_list() == pytest.approx(
        limit.frame.loc["age"].to_list(), rel=1e-4
    )
    assert found.log_likelihood == pytest.approx(limit.log_likelihood, abs=1e-6)


def test_the_one_limit_of_an_infinite_estimate_is_the_profiles() -> None:
    times, happened, hook = [1, 2, 3, 4, 5, 6], [1, 1, 1, 0, 0, 0], [1, 1, 1, 0, 0, 0]
    found = cox(times, happened, hook)
    likelihood = PartialLikelihood.of(
        np.array(times, dtype=float),
        np.array(happened, dtype=bool),
        None,
        np.array([hook]).T * 1.0,
        "efron",
    )

    # The supremum is that of three who are alone at risk: 1/3, 1/2, 1.
    def fall(slope: float) -> float:
        return 2 * (math.log(1 / 6) - likelihood(np.array([slope])).value)

    low = brentq(lambda slope: fall(slope) - 1.959963985**2, -5, 20)
    assert found.frame.loc["x1", "low"] == pytest.approx(low, rel=1e-5)
    assert found.frame.loc["x1", "p_value"] == pytest.approx(
        math.erfc(math.sqrt(fall(0) / 2)), rel=1e-5
    )


def test_two_covariates_may_part_the_events_together() -> None:
    found = cox([1, 2, 3, 4, 5], [1, 1, 1, 0, 0], [[1, 5], [1, 4], [1, 3], [0, 1], [0, 2]])
    assert found.infinite
    assert found.note
    assert not found.frame["p_value"].isna().any()
    assert ((found.frame["p_value"] >= 0) & (found.frame["p_value"] <= 1)).all()


def test_one_event_among_two_is_enough_for_an_honest_answer() -> None:
    found = cox([1, 2], [1, 0], [0.0, 1.0])
    assert found.infinite == ("x1",)
    assert found.frame.loc["x1", "coef"] == -math.inf


def nelder(loss: Any, start: list[float]) -> np.ndarray:
    options = {"xatol": 1e-10, "fatol": 1e-14, "maxiter": 20000, "maxfev": 20000}
    return np.asarray(minimize(loss, start, method="Nelder-Mead", options=options).x)


@pytest.mark.parametrize("seed", range(3))
def test_firth_is_where_a_blind_search_finds_the_maximum(seed: int) -> None:
    rng = np.random.default_rng(seed)
    covariates = np.column_stack([rng.integers(0, 2, 40), rng.normal(size=40)])
    y = (rng.random(40) < 0.15).astype(float)
    columns = np.column_stack([np.ones(40), covariates])
    likelihood = PenalisedLogistic.of(columns, y)
    found = logistic_firth(covariates, y)
    best = nelder(lambda at: -likelihood(at).value, [0.0, 0.0, 0.0])
    assert found.frame["coef"].to_numpy() == pytest.approx(best, abs=1e-6)
    assert found.log_likelihood == pytest.approx(likelihood(best).value, abs=1e-9)

    def fall(place: int, value: float) -> float:
        start = list(np.delete(best, place))
        rest = nelder(lambda at: -likelihood(np.insert(at, place, value)).value, start)
        return 2 * float(likelihood(best).value - likelihood(np.insert(rest, place, value)).value)

    for place, name in enumerate(found.frame.index):
        row = found.frame.loc[name]
        for limit in (row["low"], row["high"]):
            assert fall(place, limit) == pytest.approx(1.959963985**2, abs=1e-5)
        assert row["p_value"] == pytest.approx(
            math.erfc(math.sqrt(max(fall(place, 0.0), 0) / 2)), abs=1e-6
        )


@pytest.mark.parametrize("y", [[0] * 10, [1] * 10, [0] * 6 + [1] * 4])
def test_firth_stays_finite_whatever_the_events(y: list[int]) -> None:
    found = logistic_firth([0] * 6 + [1] * 4, y)
    assert np.isfinite(found.frame.to_numpy()).all()
    assert found.converged
    assert (found.frame["low"] < found.frame["coef"]).all()
    assert (found.frame["coef"] < found.frame["high"]).all()
    assert found.events == sum(y)


def test_firth_comes_near_the_plain_fit_where_events_are_many() -> None:
    from statsmodels.api import Logit, add_constant  # noqa: PLC0415  # heavy

    rng = np.random.default_rng(5)
    covariates = rng.normal(size=(4000, 2))
    y = (rng.random(4000) < 1 / (1 + np.exp(-covariates[:, 0]))).astype(float)
    theirs = Logit(y, add_constant(covariates)).fit(disp=False)
    found = logistic_firth(covariates, y)
    assert list(found.frame.index) == ["intercept", "x1", "x2"]
    assert found.frame["coef"].to_numpy() == pytest.approx(theirs.params, abs=2e-3)
    assert found.frame["std_error"].to_numpy() == pytest.approx(theirs.bse, rel=2e-3)


def test_a_wider_level_widens_both_kinds_of_limits() -> None:
    given = cases(1)
    y = given["observed"]
    for fit in (
        lambda level: cox(**given, level=level),
        lambda level: logistic_firth(given["X"], y, level),
    ):
        wide, narrow = fit(0.99).frame, fit(0.8).frame
        assert (wide["low"] < narrow["low"]).all()
        assert (wide["high"] > narrow["high"]).all()


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ([], "X must have at least one row"),
        ([1, math.nan, 3, 4], "X must not hold missing or infinite values"),
        ([1, 2, 3], "X has 3 rows"),
        (["a", "b", "c", "d"], "X must hold numbers only"),
        ([[1, 2], [2, 4], [3, 6], [0, 0]], "x2 never varies, or follows from the columns before"),
        ([5, 5, 5, 5], "x1 never varies"),
        (np.eye(4), "never varies, or follows|coefficients need more"),
        (np.ones((2, 2, 2)), "X must have at least one row and one column"),
    ],
)
def test_covariates_that_cannot_be_are_refused(columns: Any, words: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(ValueError, match=words):
            cox([1, 2, 3, 4], [1, 0, 1, 0], columns)
        with pytest.raises(ValueError, match=words):
            logistic_firth(columns, [1, 0, 1, 0])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"observed": [0, 0, 0, 0]}, "without an event there is nothing to fit"),
        ({"observed": [1, 0, 2, 0]}, "observed must hold only 0 and 1"),
        ({"durations": [1, -2, 3, 4]}, "durations must not be negative"),
        ({"durations": [1, 2, 3]}, "durations has 3 values"),
        ({"ties": "exact"}, "ties must be 'efron' or 'breslow', got 'exact'"),
        ({"entry": [1, 0, 0, 0]}, "each entry must be before its duration"),
        ({"level": 95}, "the level must lie between 0 and 1"),
    ],
)
def test_subjects_that_cannot_be_are_refused_by_cox(change: dict[str, Any], words: str) -> None:
    given = {"durations": [1, 2, 3, 4], "observed": [1, 0, 1, 0], "X": [0, 1, 1, 0]}
    with pytest.raises(ValueError, match=words):
        cox(**{**given, **change})


def test_a_covariate_that_varies_only_before_the_first_event_is_refused() -> None:
    with pytest.raises(ValueError, match="early tells nobody apart among those at risk"):
        cox([1, 2, 3, 4], [0, 0, 1, 1], pd.DataFrame({"early": [1, 0, 0, 0], "age": [1, 2, 4, 3]}))


@pytest.mark.parametrize("y", [[1, 0, 2, 0], [1, 0, math.nan, 0]])
def test_an_outcome_is_yes_or_no(y: list[float]) -> None:
    with pytest.raises(ValueError, match="y must hold only 0 and 1, and none missing"):
        logistic_firth([1, 2, 3, 5], y)
