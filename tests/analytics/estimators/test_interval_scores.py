import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.intersections import intersections
from analytics.estimators.interval_scores import finkelstein, relabelled, spread, sun
from analytics.estimators.npmle import Samples, fit


def scored(score: object, left: list[float], right: list[float]) -> list[float]:
    runs = intersections(np.array(left, float), np.array(right, float))
    ends = np.array([runs.cells]), np.array([runs.first.size])
    mass = fit(Samples(runs.first, runs.last, runs.count, *ends)).mass
    return score(runs, mass).tolist()  # type: ignore[operator]


exact = st.lists(st.tuples(st.integers(1, 15), st.booleans()), min_size=1, max_size=30)


@given(exact)
def test_where_events_are_known_to_the_day_suns_are_the_log_rank_scores(
    rows: list[tuple[int, bool]],
) -> None:
    left = [float(day) for day, _ in rows]
    right = [float(day) if happened else np.inf for day, happened in rows]
    plain = []
    for day, happened in rows:
        hazard = sum(
            sum(1 for time, event in rows if time == at and event)
            / sum(1 for time, _ in rows if time >= at)
            for at in {time for time, event in rows if event and time <= day}
        )
        plain.append(happened - hazard)
    assert scored(sun, left, right) == pytest.approx(plain, abs=1e-5)


@pytest.mark.parametrize("score", [sun, finkelstein])
def test_scores_add_up_to_nought(score: object) -> None:
    rng = np.random.default_rng(1)
    left = rng.integers(0, 20, 80).astype(float)
    right = np.where(rng.random(80) < 0.4, np.inf, left + rng.integers(0, 9, 80))
    assert sum(scored(score, left.tolist(), right.tolist())) == pytest.approx(0, abs=1e-4)


def test_two_groups_spread_by_the_square_of_their_standardised_sum() -> None:
    scores = np.array([1.0, -0.5, 0.5, -1.0, 0.3, -0.3])
    sums, sizes = np.array([1.5, -1.5]), np.array([2, 4])
    variance = 2 * 4 / (6 * 5) * (scores**2).sum()
    assert spread(scores, sums, sizes) == pytest.approx(1.5**2 / variance)


def test_scores_without_any_difference_spread_nothing() -> None:
    assert spread(np.zeros(4), np.zeros(2), np.array([2, 2])) == 0


def test_relabelling_has_the_mean_of_its_degrees_of_freedom() -> None:
    scores = np.random.default_rng(4).normal(size=90)
    scores -= scores.mean()
    found = relabelled(scores, np.array([20, 30, 40]), 4000, seed=1)
    assert found.shape == (4000,)
    assert found.mean() == pytest.approx(2, abs=0.12)
