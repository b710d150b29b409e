import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit

from analytics.estimators.penalised_likelihood import PenalisedLogistic

subjects = st.lists(
    st.tuples(st.booleans(), st.integers(-2, 2), st.integers(0, 1)), min_size=6, max_size=30
).filter(lambda rows: np.linalg.matrix_rank([[1, row[1], row[2]] for row in rows]) == 3)
Rows = list[tuple[bool, int, int]]
slopes = st.tuples(*[st.floats(-1.5, 1.5)] * 3)


def made(rows: Rows) -> tuple[PenalisedLogistic, np.ndarray, np.ndarray]:
    columns = np.array([[1.0, row[1], row[2]] for row in rows])
    outcome = np.array([float(row[0]) for row in rows])
    return PenalisedLogistic.of(columns, outcome), columns, outcome


@given(subjects, slopes)
def test_the_likelihood_is_its_formula(rows: Rows, at: tuple[float, float, float]) -> None:
    likelihood, columns, outcome = made(rows)
    risk = expit(columns @ at)
    plain = np.log(np.where(outcome == 1, risk, 1 - risk)).sum()
    information = columns.T @ np.diag(risk * (1 - risk)) @ columns
    penalty = 0.5 * np.log(np.linalg.det(information))
    found = likelihood(np.array(at))
    assert found.value == pytest.approx(plain + penalty, abs=1e-8)
    assert found.information == pytest.approx(information)


@given(subjects, slopes)
def test_the_gradient_is_its_slope(rows: Rows, at: tuple[float, float, float]) -> None:
    likelihood, small = made(rows)[0], 1e-5
    found = likelihood(np.array(at))
    for place in range(3):
        step = small * (np.arange(3) == place)
        rise = likelihood(np.array(at) + step).value - likelihood(np.array(at) - step).value
        assert rise / (2 * small) == pytest.approx(found.gradient[place], abs=1e-5)


def test_the_covariance_counts_the_additions_of_the_penalty() -> None:
    # Own arithmetic: two cells of 6 and 4, each with half an event and half a non-event added.
    columns = np.array([[1.0, 0.0]] * 6 + [[1.0, 1.0]] * 4)
    outcome = np.array([0.0] * 8 + [1.0] * 2)
    at = np.array([np.log(0.5 / 6.5), np.log(2.5 / 2.5) - np.log(0.5 / 6.5)])
    found = PenalisedLogistic.of(columns, outcome).covariance(at)
    assert found[0, 0] == pytest.approx(1 / 0.5 + 1 / 6.5)
    assert found[1, 1] == pytest.approx(1 / 0.5 + 1 / 6.5 + 1 / 2.5 + 1 / 2.5)


def test_coefficients_beyond_what_floats_can_hold_have_no_likelihood() -> None:
    likelihood = PenalisedLogistic.of(np.array([[1.0], [1.0]]), np.array([0.0, 1.0]))
    assert likelihood(np.array([800.0])).value == -np.inf
