import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.partial_likelihood import PartialLikelihood, Ties

subjects = st.lists(
    st.tuples(
        st.integers(0, 5), st.integers(1, 9), st.booleans(), st.integers(-2, 2), st.integers(0, 3)
    ),
    min_size=1,
    max_size=25,
).filter(lambda rows: any(row[2] for row in rows))
Rows = list[tuple[int, int, bool, int, int]]


def made(rows: Rows, ties: Ties) -> PartialLikelihood:
    entry, stay, happened, *covariates = (np.array(column) for column in zip(*rows, strict=True))
    columns = np.column_stack(covariates).astype(float)
    return PartialLikelihood.of(
        (entry + stay).astype(float), happened.astype(bool), entry.astype(float), columns, ties
    )


def by_hand(rows: Rows, ties: Ties, slopes: tuple[float, float]) -> float:
    """Multiply the factors one by one."""
    total = 0.0
    risks = [math.exp(slopes[0] * row[3] + slopes[1] * row[4]) for row in rows]
    for time in {entry + stay for entry, stay, happened, *_ in rows if happened}:
        here = [n for n, row in enumerate(rows) if row[0] < time <= row[0] + row[1]]
        dying = [n for n in here if rows[n][2] and sum(rows[n][:2]) == time]
        for place, n in enumerate(dying):
            gone = place / len(dying) if ties == "efron" else 0.0
            left = sum(risks[m] for m in here) - gone * sum(risks[m] for m in dying)
            total += math.log(risks[n] / left)
    return total


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@given(rows=subjects, slopes=st.tuples(st.floats(-1, 1), st.floats(-1, 1)))
def test_the_likelihood_is_the_product_of_its_factors(
    ties: Ties, rows: Rows, slopes: tuple[float, float]
) -> None:
    found = made(rows, ties)(np.array(slopes))
    assert found.value == pytest.approx(by_hand(rows, ties, slopes), abs=1e-9)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@given(rows=subjects, slopes=st.tuples(st.floats(-1, 1), st.floats(-1, 1)))
def test_gradient_and_information_are_its_slopes(
    ties: Ties, rows: Rows, slopes: tuple[float, float]
) -> None:
    likelihood, at, small = made(rows, ties), np.array(slopes), 1e-5
    found = likelihood(at)
    for place in range(2):
        step = small * (np.arange(2) == place)
        ahead, behind = likelihood(at + step), likelihood(at - step)
        assert (ahead.value - behind.value) / (2 * small) == pytest.approx(
            found.gradient[place], abs=1e-5
        )
        assert (behind.gradient - ahead.gradient) / (2 * small) == pytest.approx(
            found.information[place], abs=1e-4
        )


def test_coefficients_beyond_what_floats_can_hold_have_no_likelihood() -> None:
    # The first leaves with a weight beside which those who stay weigh nothing.
    found = PartialLikelihood.of(
        np.array([1.0, 2.0]), np.array([True, True]), None, np.array([[1.0], [0.0]]), "efron"
    )(np.array([800.0]))
    assert found.value == -np.inf
