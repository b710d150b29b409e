import numpy as np
import pytest

from analytics.simulation.study import (
    BETWEEN,
    CRUDE,
    FILM_DAYS,
    FOUND_AJ,
    FOUND_KM,
    NET,
    Setting,
    observe,
    run,
    truth,
)

LARGE = Setting(200_000, loss=0.3, competing=0.25)


def test_the_truth_is_what_a_count_of_many_shows() -> None:
    rng = np.random.default_rng(1)
    lost = LARGE.scale * rng.weibull(LARGE.shape, LARGE.size)
    other = rng.exponential(1 / LARGE.competing_rate, LARGE.size)
    true = truth(LARGE)
    assert true[NET][-1] == pytest.approx(LARGE.loss)
    for place, day in enumerate(FILM_DAYS):
        assert true[NET][place] == pytest.approx(np.mean(lost <= day), abs=0.004)
        first = (lost <= day) & (lost < other)
        assert true[CRUDE][place] == pytest.approx(np.mean(first), abs=0.004)


def test_what_is_seen_holds_together() -> None:
    seen = observe(LARGE, np.random.default_rng(2))
    assert (seen.left < seen.right).all()
    found, competed = seen.causes == 1, seen.causes == 2
    assert (seen.days[found] == seen.right[found]).all()
    assert np.isinf(seen.right[~found]).all()
    assert (seen.days[competed] > seen.left[competed]).all()
    assert (seen.days[seen.causes == 0] == seen.left[seen.causes == 0]).all()
    # Films scatter, so that a late one lies behind the day it was due.
    assert seen.days[found].max() > FILM_DAYS[-1]


def test_the_estimate_between_films_holds_the_truth_where_that_by_the_film_comes_late() -> None:
    found = run(Setting(200), 40, seed=3).set_index(["method", "of", "day"]).sort_index()
    for of in (NET, CRUDE):
        between = found.loc[BETWEEN, of]
        # With 40 cohorts the standard error of a coverage of 95 per cent is 3.4.
        assert between["coverage"].mean() > 0.9
        assert (between["bias"].abs() < 0.012).all()
    for method, of in ((FOUND_KM, NET), (FOUND_AJ, CRUDE)):
        late = found.loc[method, of]
        assert (late["bias"] < 0).all()
        assert late.loc[365, "bias"] < -0.01
    parts = found[["coverage", "missed_below", "missed_above"]].sum(axis=1)
    assert parts.to_numpy() == pytest.approx(np.ones(len(found)))


def test_each_cohort_is_counted_and_the_seed_says_which() -> None:
    steps: list[int] = []
    one = run(Setting(40), 3, seed=5, done=lambda: steps.append(1))
    assert len(steps) == 3
    assert one.equals(run(Setting(40), 3, seed=5))
    assert not one.equals(run(Setting(40), 3, seed=6))


def test_no_replicates_are_no_study() -> None:
    with pytest.raises(ValueError, match="at least one replicate"):
        run(Setting(40), 0)
