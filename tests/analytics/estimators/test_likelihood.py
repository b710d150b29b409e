"""Climbing a likelihood and walking along its profile, with shapes that are known and with few cases."""

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from analytics.estimators.inputs import Floats
from analytics.estimators.likelihood import Point, maximise, profile_limit, signed_root
from analytics.estimators.partial_likelihood import PartialLikelihood
from analytics.estimators.penalised_likelihood import PenalisedLogistic
from analytics.estimators.regression import COLUMNS, Regression, cox, logistic_firth

# A pass over ten rows takes some 50 microseconds: so many are less than a second.
MOST_PASSES = 20_000
# Making a failing table smaller would take minutes.
PHASES = [Phase.explicit, Phase.reuse, Phase.generate]

SHAPE = np.array([[3.0, 1.0], [1.0, 2.0]])
TOP = np.array([1.0, -2.0])


def bowl(at: Floats) -> Point:
    away = at - TOP
    return Point(float(-away @ SHAPE @ away / 2), -SHAPE @ away, SHAPE)


def slope_without_end(at: Floats) -> Point:
    """Rise for ever in the first coefficient, with a top in the second."""
    fading = math.exp(-at[0])
    value = -fading - (at[1] - 3) ** 2 / 2
    return Point(value, np.array([fading, 3 - at[1]]), np.diag([fading, 1.0]))


def steep(at: Floats) -> Point:
    """Overshoot: minus log cosh, whose steps lead ever farther away from beyond 1.09."""
    return Point(
        float(-np.logaddexp(at[0], -at[0])), -np.tanh(at), np.array([[np.cosh(at[0]) ** -2]])
    )


def test_a_bowl_is_climbed_in_one_step() -> None:
    found = maximise(bowl, np.zeros(2))
    assert found.at == pytest.approx(TOP)
    assert found.converged
    assert found.iterations == 2
    assert found.flat.shape == (2, 0)


def test_what_is_held_does_not_move() -> None:
    found = maximise(bowl, np.zeros(2), np.array([False, True]))
    assert found.at == pytest.approx([0.0, -1.5])
    assert maximise(bowl, np.zeros(2), np.array([False, False])).at.tolist() == [0, 0]


def test_steps_that_lead_down_are_halved() -> None:
    found = maximise(steep, np.array([2.0]))
    assert found.at == pytest.approx([0.0], abs=1e-9)
    assert found.converged


def test_a_direction_without_end_is_found_and_the_other_still_climbed() -> None:
    found = maximise(slope_without_end, np.zeros(2))
    assert found.converged
    assert found.at[1] == pytest.approx(3)
    assert found.at[0] > 15
    assert np.abs(found.flat[:, 0]).tolist() == pytest.approx([1.0, 0.0])


@pytest.mark.parametrize("place", [0, 1])
def test_limits_of_a_bowl_are_those_of_wald(place: int) -> None:
    top = maximise(bowl, np.zeros(2))
    std_error = math.sqrt(np.linalg.inv(SHAPE)[place, place])
    for width in (-0.1, 0.7, 40.0):
        found = profile_limit(bowl, top, place, width, 1.96)
        assert found == pytest.approx(TOP[place] + math.copysign(1.96, width) * std_error)


def test_the_root_of_the_fall_is_nothing_at_the_top() -> None:
    top = maximise(bowl, np.zeros(2))
    assert signed_root(bowl, top, top.at, 0)[0] == pytest.approx(0, abs=1e-7)


def test_there_is_no_limit_where_the_profile_does_not_fall_so_far() -> None:
    top = maximise(slope_without_end, np.zeros(2))
    assert profile_limit(slope_without_end, top, 0, 1.0, 1.96) == math.inf
    back = profile_limit(slope_without_end, top, 0, -1.0, 1.96)
    assert math.exp(-back) == pytest.approx(1.96**2 / 2, rel=1e-6)


@contextmanager
def passes() -> Iterator[list[int]]:
    """Count how often either likelihood is worked out."""
    counted = [0]
    with pytest.MonkeyPatch.context() as patch:
        for kind in (PartialLikelihood, PenalisedLogistic):
            patch.setattr(kind, "__call__", _counting(kind.__call__, counted))
        yield counted


def _counting(call: Any, counted: list[int]) -> Any:
    def count(self: Any, coefficients: Any) -> Point:
        counted[0] += 1
        found: Point = call(self, coefficients)
        return found

    return count


@st.composite
def column(draw: st.DrawFn, size: int) -> list[float]:
    """Draw a covariate: codes, measures, large and small units, and one that lies far from 0."""
    codes = st.lists(st.integers(0, 2), min_size=size, max_size=size)
    measures = st.lists(st.floats(-9, 9, width=32), min_size=size, max_size=size)
    base = draw(st.one_of(codes, measures))
    unit = draw(st.sampled_from([1.0, 1.0, 1e-6, 1e5]))
    away = draw(st.sampled_from([0.0, 0.0, 2025.0, 1e6]))
    return [away + unit * float(one) for one in base]


@st.composite
def table(draw: st.DrawFn) -> tuple[Any, list[int], list[float]]:
    """Draw covariates, whether the event happened, and when, of 4 to 10 cases."""
    size = draw(st.integers(4, 10))
    columns = [draw(column(size)) for _ in range(draw(st.integers(1, 3)))]
    happened = draw(st.lists(st.integers(0, 1), min_size=size, max_size=size))
    days = st.one_of(st.integers(0, 9).map(float), st.floats(0, 800))
    times = draw(st.lists(days, min_size=size, max_size=size))
    return np.column_stack(columns), happened, times


def fitted(fit: Callable[[], Regression]) -> Regression | None:
    """Return a fit, or None where it was refused in words."""
    try:
        return fit()
    except ValueError as fault:
        refused = str(fault)
    assert refused
    return None


def number_of(found: Regression, term: str, column: str) -> float:
    """Return one number of a fit."""
    return float(found.frame[column].to_numpy(dtype=float)[found.frame.index.get_loc(term)])


def sound(found: Regression) -> None:
    """Assert that a fit is numbers in order, or says what is wrong with it."""
    frame = found.frame
    assert found.converged or found.note
    assert frame["p_value"].between(0, 1).all()
    missing = frame.index[frame.isna().any(axis=1)]
    assert set(missing) <= set(found.infinite)
    assert all(name in found.note for name in found.infinite) or not found.infinite
    for coef, low, high in frame[["coef", "low", "high"]].to_numpy(dtype=float).tolist():
        slack = 1e-6 * max(abs(coef), high - low, 1e-9)
        if not math.isfinite(slack):
            slack = 0.0
        assert low - slack <= coef <= high + slack


@settings(max_examples=40, deadline=None, phases=PHASES)
@given(table())
def test_firth_of_a_handful_ends_soon_with_numbers_or_a_word(given_table: Any) -> None:
    covariates, happened, _ = given_table
    with passes() as counted:
        found = fitted(lambda: logistic_firth(covariates, happened))
        if found is not None:
            sound(found)
            assert np.isfinite(found.frame[["coef", "std_error"]].to_numpy()).all()
    assert counted[0] < MOST_PASSES


@settings(max_examples=40, deadline=None, phases=PHASES)
@given(table(), st.booleans())
@example(
    # The second column tells nobody apart who is at risk, up to rounding.
    (
        np.array([[-836021.8, 0.0], [-798225.1, 1.0], [0.0, 1.0], [-2.5e-22, 1.0]]),
        [0, 1, 1, 1],
        [1.8e-73, 8.0, 549.2, 9.0],
    ),
    False,
)
def test_cox_of_a_handful_ends_soon_with_numbers_or_a_word(given_table: Any, efron: bool) -> None:
    covariates, happened, times = given_table
    with passes() as counted:
        found = fitted(lambda: cox(times, happened, covariates, "efron" if efron else "breslow"))
        if found is not None:
            sound(found)
    assert counted[0] < MOST_PASSES


def shifted(by: float) -> tuple[Regression, Regression]:
    """Return the same regression about 0 and about a covariate's place far from it."""
    rng = np.random.default_rng(4)
    plain = pd.DataFrame({"year": rng.integers(0, 3, 40), "age": rng.normal(45, 12, 40)})
    happened = rng.random(40) < 0.3
    return (
        logistic_firth(plain, happened),
        logistic_firth(plain.assign(year=plain["year"] + by), happened),
    )


@pytest.mark.parametrize(("by", "note"), [(2025.0, ""), (1e6, "far from every subject")])
def test_how_far_from_0_a_covariate_lies_changes_nothing_but_the_intercept(
    by: float, note: str
) -> None:
    near, far = shifted(by)
    assert far.converged
    assert note in far.note
    assert bool(far.note) == bool(note)
    assert far.log_likelihood == pytest.approx(near.log_likelihood, abs=1e-8)
    for name in ("year", "age"):
        for column in COLUMNS:
            wanted = pytest.approx(number_of(near, name, column), rel=1e-5)
            assert number_of(far, name, column) == wanted
    # The same line, read off that many years earlier.
    moved = number_of(near, "intercept", "coef") - by * number_of(near, "year", "coef")
    assert number_of(far, "intercept", "coef") == pytest.approx(moved, rel=1e-6)
    low, high = number_of(far, "intercept", "low"), number_of(far, "intercept", "high")
    assert low < moved < high
    # So far away the intercept is 0 where the slope is.
    wanted = number_of(near, "year", "p_value")
    assert number_of(far, "intercept", "p_value") == pytest.approx(wanted, abs=0.02)


def test_the_intercept_has_its_own_profile() -> None:
    # Against a search of another kind: the height of the profile at both limits.
    covariate = np.array([3.0, 4, 5, 6, 7, 8, 9, 10])
    happened = np.array([0.0, 0, 1, 0, 1, 0, 1, 1])
    found = logistic_firth(covariate, happened)
    columns = np.column_stack([np.ones(8), covariate])

    def height(intercept: float, slope: float) -> float:
        score = columns @ [intercept, slope]
        risk = 1 / (1 + np.exp(-score))
        weight = risk * (1 - risk)
        _, penalty = np.linalg.slogdet((weight[:, None] * columns).T @ columns)
        return float(np.log(np.where(happened > 0, risk, 1 - risk)).sum() + penalty / 2)

    for limit in (number_of(found, "intercept", "low"), number_of(found, "intercept", "high")):
        best = minimize(
            lambda slope, at=limit: -height(at, slope[0]),
            [-limit / covariate.mean()],
            method="Nelder-Mead",
            options={"xatol": 1e-10, "fatol": 1e-12},
        )
        assert 2 * (found.log_likelihood + best.fun) == pytest.approx(3.841459, abs=1e-4)
