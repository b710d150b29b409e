import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.stats import norm

from analytics.estimators.proportions import (
    clopper_pearson,
    missing_bounds,
    newcombe_difference,
    risk_ratio,
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


def score_by_search(ratio: float, e1: int, n1: int, e2: int, n2: int) -> float:
    """Find the likeliest pair of proportions with a ratio by search, and return their score."""

    def loss(p2: float) -> float:
        p1 = ratio * p2
        parts = ((e1, p1), (n1 - e1, 1 - p1), (e2, p2), (n2 - e2, 1 - p2))
        return -sum(count * math.log(p) for count, p in parts if count)

    most = min(1.0, 1 / ratio)
    found = minimize_scalar(loss, bounds=(0, most), method="bounded", options={"xatol": 1e-13})
    p2 = float(found.x)
    p1 = ratio * p2
    variance = p1 * (1 - p1) / n1 + ratio**2 * p2 * (1 - p2) / n2
    return (e1 / n1 - ratio * e2 / n2) / math.sqrt(variance)


few = st.integers(2, 40).flatmap(lambda n: st.tuples(st.integers(1, n - 1), st.just(n)))


@given(few, few, st.floats(0.8, 0.99))
def test_koopmans_limits_solve_the_score_equation(
    one: tuple[int, int], two: tuple[int, int], level: float
) -> None:
    found = risk_ratio(*one, *two, level=level)
    z = norm.ppf(0.5 + level / 2)
    assert found.low < found.estimate < found.high
    assert score_by_search(found.low, *one, *two) == pytest.approx(z, rel=1e-3)
    assert score_by_search(found.high, *one, *two) == pytest.approx(-z, rel=1e-3)


@given(counts, counts)
def test_turning_a_ratio_of_risks_round_inverts_it(
    one: tuple[int, int], two: tuple[int, int]
) -> None:
    forth, back = risk_ratio(*one, *two), risk_ratio(*two, *one)
    assert forth.low * back.high == pytest.approx(1, rel=1e-7) or forth.low == 0
    assert forth.high * back.low == pytest.approx(1, rel=1e-7) or forth.high == math.inf
    if one[0] and two[0]:
        assert forth.low <= forth.estimate <= forth.high


def test_ratios_without_events_still_have_what_limits_they_can() -> None:
    none_in_one, none_in_two = risk_ratio(0, 20, 3, 20), risk_ratio(3, 20, 0, 20)
    assert (none_in_one.estimate, none_in_one.low) == (0, 0)
    assert 1 < none_in_one.high < 1.5
    assert none_in_two.estimate == none_in_two.high == math.inf
    assert none_in_two.low == pytest.approx(1 / none_in_one.high)
    neither = risk_ratio(0, 20, 0, 20)
    assert math.isnan(neither.estimate)
    assert (neither.low, neither.high) == (0, math.inf)


def test_where_all_have_the_event_the_ratio_is_one_within_limits() -> None:
    found = risk_ratio(20, 20, 20, 20)
    assert found.estimate == 1
    # The score against a ratio r above 1 is that of 20 of 20 against 1/r: n (r - 1) = z squared.
    assert found.high == pytest.approx(1 + norm.ppf(0.975) ** 2 / 20)
    assert found.low == pytest.approx(1 / found.high)


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
    for compared in (newcombe_difference, risk_ratio):
        with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
            compared(1, 20, 2, 20, level=level)


@pytest.mark.parametrize("compared", [newcombe_difference, risk_ratio])
def test_neither_group_may_be_empty_or_have_more_events_than_people(
    compared: Callable[..., object],
) -> None:
    for bad, words in (
        ((0, 0, 1, 20), "the total must be above 0"),
        ((1, 20, 0, 0), "the total must be above 0"),
        ((1, 20, 21, 20), "events must lie between 0 and 20"),
    ):
        with pytest.raises(ValueError, match=words):
            compared(*bad)


@pytest.mark.parametrize("counts", [(5, 4, 10), (1, 11, 10), (0, 0, 0), (-1, 4, 10)])
def test_bounds_need_events_among_the_evaluable_among_the_eligible(
    counts: tuple[int, int, int],
) -> None:
    with pytest.raises(ValueError, match="need 0 <= events <= evaluable <= eligible"):
        missing_bounds(*counts)
