import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.estimators import npmle
from analytics.estimators.inputs import Floats
from analytics.estimators.intersections import Runs, intersections
from analytics.estimators.npmle import Samples, fit


def runs(seed: int, size: int = 30) -> Runs:
    rng = np.random.default_rng(seed)
    left = rng.integers(0, 15, size).astype(float)
    right = np.where(rng.random(size) < 0.3, np.inf, left + rng.integers(0, 6, size))
    return intersections(left, right)


def samples(*every: Runs) -> Samples:
    shift = np.cumsum([0, *(one.cells for one in every)])[:-1]
    return Samples(
        np.concatenate([one.first + by for one, by in zip(every, shift, strict=True)]),
        np.concatenate([one.last + by for one, by in zip(every, shift, strict=True)]),
        np.concatenate([one.count for one in every]),
        np.array([one.cells for one in every]),
        np.array([one.first.size for one in every]),
    )


def plain(one: Runs, rounds: int = 200_000) -> Floats:
    """Return the masses by EM alone on the full table of rows by cells."""
    cells = np.arange(one.cells)
    table = (cells >= one.first[:, None]) & (cells <= one.last[:, None])
    mass = np.full(one.cells, 1 / one.cells)
    for _ in range(rounds):
        new = mass * (one.count @ (table / (table @ mass)[:, None])) / one.count.sum()
        if np.abs(new - mass).max() < 1e-13:
            break
        mass = new
    return mass


@pytest.mark.parametrize("seed", range(6))
def test_no_masses_are_likelier_than_those_of_plain_em(seed: int) -> None:
    one = runs(seed)
    found = fit(samples(one))
    slow = np.concatenate([[0.0], np.cumsum(plain(one))])
    value = float(one.count @ np.log(slow[one.last + 1] - slow[one.first]))
    assert found.log_likelihood[0] == pytest.approx(value, abs=1e-7)
    assert found.log_likelihood[0] >= value - 30e-8


@settings(deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 200))
def test_the_gap_proves_that_the_masses_are_the_likeliest(seed: int, size: int) -> None:
    one = runs(seed, size)
    found = fit(samples(one))
    share = found.cumulative[one.last + 1] - found.cumulative[one.first]
    gains = [
        float((one.count / share)[(one.first <= cell) & (cell <= one.last)].sum()) / size
        for cell in range(one.cells)
    ]
    assert max(gains) - 1 < 1e-8 + 1e-12
    assert found.gap[0] == pytest.approx(max(0, max(gains) - 1), abs=1e-11)
    assert found.mass.min() >= 0
    assert found.mass.sum() == pytest.approx(1, abs=1e-12)


def test_samples_beside_each_other_come_out_as_alone() -> None:
    every = [runs(seed, 5 + 7 * seed) for seed in range(12)]
    together = fit(samples(*every), gap=1e-10)
    for place, one in enumerate(every):
        alone = fit(samples(one), gap=1e-10)
        begin = together.begins[place]
        mine = together.cumulative[begin : begin + one.cells + 1]
        assert mine == pytest.approx(alone.cumulative, abs=1e-6)
        assert together.log_likelihood[place] == pytest.approx(alone.log_likelihood[0], abs=1e-8)


def test_some_samples_can_be_taken_out() -> None:
    every = [runs(seed) for seed in range(5)]
    kept = np.array([True, False, True, False, True])
    some, same = samples(*every).only(kept), samples(*every[::2])
    for name in ("first", "after", "count", "begins", "closes", "row_begins", "of_end"):
        assert getattr(some, name).tolist() == getattr(same, name).tolist()


def test_a_start_near_the_end_needs_fewer_rounds() -> None:
    one = samples(runs(3, 200))
    whole = fit(one)
    near = 0.99 * whole.cumulative + 0.01 * one.even()
    assert fit(one, near).rounds < whole.rounds


def test_one_cell_has_all_the_mass() -> None:
    found = fit(samples(intersections(np.array([0.0, 1.0]), np.array([5.0, 4.0]))))
    assert (found.mass.tolist(), found.log_likelihood[0], found.gap[0]) == ([1.0], 0.0, 0.0)


def test_what_does_not_settle_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(npmle, "MOST_ROUNDS", 2)
    with pytest.raises(ValueError, match="did not settle"):
        fit(samples(runs(3, 200)))
