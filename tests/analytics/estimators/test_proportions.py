import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.proportions import (
    clopper_pearson,
    missing_bounds,
    newcombe_difference,
    wilson,
)
from analytics.estimators.results import Estimate

Interval = Callable[..., Estimate]

counts = st.integers(1, 400).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total)))
both = pytest.mark.parametrize("interval", [wilson, clopper_pearson])


@both
@given(counts, st.floats(0.5, 0.999))
def test_an_interval_holds_its_estimate_within_nought_and_one(
    interval: Interval, pair: tuple[int, int], level: float
) -> None:
    found = interval(*pair, level=level)
    assert 0 <= found.low <= found.estimate <= found.high <= 1


@both
@given(counts)
def test_counting_the_others_mirrors_the_interval(
    interval: Interval, pair: tuple[int, int]
) -> None:
    events, total = pair
    had, had_not = interval(events, total), interval(total - events, total)
    assert had.low == pytest.approx(1 - had_not.high, abs=1e-12)
    assert had.high == pytest.approx(1 - had_not.low, abs=1e-12)


@given(counts)
def test_wilson_solves_the_score_equation(pair: tuple[int, int]) -> None:
    events, total = pair
    found = wilson(events, total)
    for limit in {found.low, found.high} - {0.0, 1.0}:
        score = abs(found.estimate - limit) / math.sqrt(limit * (1 - limit) / total)
        assert score == pytest.approx(1.959963985, rel=1e-6)


@given(counts, counts)
def test_turning_a_difference_round_mirrors_it(one: tuple[int, int], two: tuple[int, int]) -> None:
    forth, back = newcombe_difference(*one, *two), newcombe_difference(*two, *one)
    assert forth.estimate == pytest.approx(-back.estimate)
    assert forth.low == pytest.approx(-back.high)
    assert -1 - 1e-12 <= forth.low <= forth.estimate <= forth.high <= 1 + 1e-12


@given(st.integers(1, 300), st.data())
def test_bounds_hold_every_rate_that_the_missing_could_make(
    eligible: int, data: st.DataObject
) -> None:
    evaluable = data.draw(st.integers(0, eligible))
    events = data.draw(st.integers(0, evaluable))
    had = data.draw(st.integers(0, eligible - evaluable))
    bounds = missing_bounds(events, evaluable, eligible)
    assert bounds.low <= (events + had) / eligible <= bounds.high
    if had == 0:
        assert bounds.low == events / eligible


def test_nothing_missing_leaves_no_gap_between_the_bounds() -> None:
    bounds = missing_bounds(3, 20, 20)
    assert bounds.low == bounds.high == 0.15


def test_counts_may_come_from_numpy() -> None:
    assert wilson(np.int64(3), np.int64(20)) == wilson(3, 20)


@both
@pytest.mark.parametrize(
    ("events", "total", "words"),
    [
        (1, 0, "the total must be above 0"),
        (21, 20, "events must lie between 0 and 20"),
        (-1, 20, "events must lie between 0 and 20"),
        (1.5, 20, "events must be a whole number"),
        (math.nan, 20, "events must be a whole number"),
        (1, math.inf, "total must be a whole number"),
        ("1", 20, "events must be a whole number"),
        (None, 20, "events must be a whole number"),
    ],
)
def test_counts_that_cannot_be_are_refused(
    interval: Interval, events: object, total: object, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        interval(events, total)


@pytest.mark.parametrize("level", [0, 1, 95])
def test_a_level_in_per_cent_is_refused(level: float) -> None:
    for interval in (wilson, clopper_pearson):
        with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
            interval(1, 20, level=level)
    with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
        newcombe_difference(1, 20, 2, 20, level=level)


@pytest.mark.parametrize("counts", [(5, 4, 10), (1, 11, 10), (0, 0, 0), (-1, 4, 10)])
def test_bounds_need_events_among_the_evaluable_among_the_eligible(
    counts: tuple[int, int, int],
) -> None:
    with pytest.raises(ValueError, match="need 0 <= events <= evaluable <= eligible"):
        missing_bounds(*counts)
