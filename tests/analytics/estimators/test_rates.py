import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from analytics.estimators.rates import direct_standardise, poisson_rate, rate_ratio

events = st.integers(0, 300)
person_times = st.floats(0.01, 1e6)


@given(events, person_times, st.floats(0.5, 0.999))
def test_the_limits_leave_half_of_the_rest_on_each_side(
    number: int, person_time: float, level: float
) -> None:
    found = poisson_rate(number, person_time, level)
    tail = (1 - level) / 2
    assert found.low <= found.estimate == number / person_time <= found.high
    assert poisson.cdf(number, found.high * person_time) == pytest.approx(tail, rel=1e-8)
    if number == 0:
        assert found.low == 0.0
    else:
        assert poisson.sf(number - 1, found.low * person_time) == pytest.approx(tail, rel=1e-8)


@given(events, person_times, st.floats(0.1, 10))
def test_one_stratum_is_standardised_to_its_own_exact_rate(
    number: int, person_time: float, weight: float
) -> None:
    found = direct_standardise([number], [person_time], [weight])
    exact = poisson_rate(number, person_time)
    assert found.estimate == pytest.approx(exact.estimate, rel=1e-9)
    assert found.low == pytest.approx(exact.low, rel=1e-7)
    assert found.high == pytest.approx(exact.high, rel=1e-7)


@given(st.lists(st.tuples(events, person_times, st.floats(0.1, 100)), min_size=1, max_size=8))
def test_a_standardised_rate_is_the_weighted_mean_within_its_interval(
    strata: list[tuple[int, float, float]],
) -> None:
    counts, sizes, weights = zip(*strata, strict=True)
    found = direct_standardise(counts, sizes, weights)
    plain = sum(w * e / n for e, n, w in strata) / sum(weights)
    assert found.estimate == pytest.approx(plain)
    assert 0 <= found.low <= found.estimate * (1 + 1e-9)
    assert found.estimate < found.high < math.inf


def test_only_the_proportions_of_the_weights_matter() -> None:
    one = direct_standardise([3, 0, 5], [100, 40, 210], [1, 2, 3])
    two = direct_standardise([3, 0, 5], [100, 40, 210], [10, 20, 30])
    assert (one.estimate, one.low, one.high) == pytest.approx((two.estimate, two.low, two.high))


@given(st.integers(0, 60), person_times, st.integers(0, 60), person_times)
def test_turning_a_ratio_round_inverts_it(e1: int, t1: float, e2: int, t2: float) -> None:
    if e1 + e2 == 0:
        with pytest.raises(ValueError, match="without an event in either group"):
            rate_ratio(e1, t1, e2, t2)
        return
    forth, back = rate_ratio(e1, t1, e2, t2), rate_ratio(e2, t2, e1, t1)
    assert forth.low <= forth.estimate * (1 + 1e-9)
    assert forth.estimate <= forth.high * (1 + 1e-9)
    if e1 and e2:
        assert forth.low == pytest.approx(1 / back.high, rel=1e-7)
        assert forth.estimate == pytest.approx((e1 / t1) / (e2 / t2), rel=1e-9)
    if e2 == 0:
        assert forth.estimate == forth.high == math.inf
        assert math.isfinite(forth.low)
    if e1 == 0:
        assert forth.estimate == forth.low == 0


@pytest.mark.parametrize(
    ("number", "person_time", "words"),
    [
        (-1, 10, "events must be a whole number from 0 on, got -1"),
        (1.5, 10, "events must be a whole number from 0 on"),
        (math.nan, 10, "events must be a whole number from 0 on"),
        ([1], 10, "events must be a whole number from 0 on"),
        ("many", 10, "events must hold numbers only"),
        (1, 0, "the person-time must be above 0, got 0"),
        (1, -3, "the person-time must be above 0"),
        (1, math.inf, "the person-time must be above 0"),
        (1, math.nan, "the person-time must be above 0"),
    ],
)
def test_events_and_time_that_cannot_be_are_refused(
    number: object, person_time: object, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        poisson_rate(number, person_time)  # type: ignore[arg-type]  # wrong on purpose
    with pytest.raises(ValueError, match=words):
        rate_ratio(1, 1.0, number, person_time)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("counts", "sizes", "weights", "words"),
    [
        ([], [], [], "at least one stratum"),
        ([1, 2], [10], [1, 1], "need one value a stratum, got 2 events, 1 sizes and 2 weights"),
        ([1, 0.5], [10, 10], [1, 1], "events must hold whole numbers"),
        ([1, -1], [10, 10], [1, 1], "events must hold whole numbers"),
        ([1, math.nan], [10, 10], [1, 1], "events must hold whole numbers"),
        ([1, 1], [10, 0], [1, 1], "person_time_or_n must be above 0"),
        ([1, 1], [10, math.nan], [1, 1], "person_time_or_n must be above 0"),
        ([1, 1], [10, 10], [1, 0], "weights must be above 0"),
    ],
)
def test_strata_that_cannot_be_are_refused(
    counts: list[float], sizes: list[float], weights: list[float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        direct_standardise(counts, sizes, weights)


@pytest.mark.parametrize("level", [0, 1, 95])
def test_a_level_in_per_cent_is_refused(level: float) -> None:
    with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
        poisson_rate(1, 1, level)
    with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
        rate_ratio(1, 1, 1, 1, level)
    with pytest.raises(ValueError, match="the level must lie between 0 and 1"):
        direct_standardise([1], [1], [1], level)
