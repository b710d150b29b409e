import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from analytics.estimators import monitoring
from analytics.estimators.inputs import Floats


def test_limits_come_in_the_order_of_the_units_for_each_level() -> None:
    found = monitoring.funnel_limits([200, 50], 0.1, levels=(0.9,))
    assert found.index.to_list() == [200, 50]
    assert found.columns.to_list() == ["low_90", "high_90"]
    assert monitoring.funnel_limits(50, 0.1).columns.to_list() == [
        "low_95",
        "high_95",
        "low_99.8",
        "high_99.8",
    ]


@given(st.integers(1, 2000), st.floats(0.005, 0.995))
def test_a_limit_lies_within_one_count_below_the_exact_quantile(n: int, target: float) -> None:
    found = monitoring.funnel_limits(n, target).iloc[0]
    for name, tail in (("low_95", 0.025), ("high_99.8", 0.999)):
        count = binom.ppf(tail, n, target)
        assert max(0, count - 1) / n - 1e-9 <= found[name] <= count / n + 1e-9
    assert 0 <= found["low_99.8"] <= found["low_95"] <= found["high_95"] <= found["high_99.8"] <= 1


def test_limits_close_in_as_units_grow() -> None:
    found = monitoring.funnel_limits(np.arange(20, 400), 0.1)
    # Interpolated between counts, the width still wavers by less than a quarter of a count.
    width = (found["high_95"] - found["low_95"]) * found.index
    assert (width.diff().dropna() > -0.25).all()
    assert found["high_95"].iloc[-1] - found["low_95"].iloc[-1] < 0.07


def test_units_that_differ_by_chance_alone_have_no_variance_of_their_own() -> None:
    rng = np.random.default_rng(2)
    totals = rng.integers(40, 300, 400)
    found = monitoring.overdispersion(rng.binomial(totals, 0.1), totals)
    assert found.phi == pytest.approx(1, abs=0.15)
    assert found.phi_winsorised < found.phi
    assert found.tau2 < 0.0004


def test_the_variance_between_units_is_recovered() -> None:
    rng = np.random.default_rng(3)
    totals = rng.integers(100, 400, 3000)
    shares = np.clip(rng.normal(0.2, 0.05, totals.size), 0, 1)
    found = monitoring.overdispersion(rng.binomial(totals, shares), totals)
    assert found.tau2 == pytest.approx(0.05**2, rel=0.1)
    one = monitoring.overdispersed_limits(200, found.target, found.tau2).iloc[0]
    outside = rng.binomial(200, np.clip(rng.normal(0.2, 0.05, 20000), 0, 1)) / 200
    assert np.mean((outside < one["low_95"]) | (outside > one["high_95"])) == pytest.approx(
        0.05, abs=0.01
    )


def test_a_given_target_is_kept() -> None:
    found = monitoring.overdispersion([2, 4], [10, 10], target=0.2, winsorised=0)
    assert (found.target, found.z[0]) == (0.2, 0)
    assert found.phi == found.phi_winsorised == pytest.approx(0.5 * 0.2**2 / 0.016)


def test_alike_units_have_no_negative_variance() -> None:
    assert monitoring.overdispersion([2, 2, 2], [10, 10, 10]).tau2 == 0


def plain(outcomes: list[int], risks: list[float], ratio: float, limit: float) -> list[float]:
    path, at = [], 0.0
    for outcome, risk in zip(outcomes, risks, strict=True):
        worse = ratio * risk / (1 - risk + ratio * risk)
        likelihood = worse / risk if outcome else (1 - worse) / (1 - risk)
        at = max(0.0, (0.0 if at >= limit else at) + float(np.log(likelihood)))
        path.append(at)
    return path


@given(
    st.lists(st.tuples(st.integers(0, 1), st.floats(0.02, 0.9)), min_size=1, max_size=60),
    st.sampled_from([0.25, 0.5, 1.5, 3.0]),
)
def test_the_path_is_that_of_the_plain_recursion(
    rows: list[tuple[int, float]], ratio: float
) -> None:
    outcomes, risks = map(list, zip(*rows, strict=True))
    found = monitoring.cusum(outcomes, risks, ratio, 1.1)
    assert found.path == pytest.approx(plain(outcomes, risks, ratio, 1.1), abs=1e-12)
    assert found.signals.tolist() == [at for at, height in enumerate(found.path) if height >= 1.1]


def test_the_sum_signals_on_reaching_the_limit_and_starts_again() -> None:
    each = float(np.log(2 / 1.1))
    found = monitoring.cusum([1, 1, 1, 0, 1], 0.1, 2, limit=2 * each)
    assert found.signals.tolist() == [1]
    assert found.path == pytest.approx(
        [each, 2 * each, each, each - np.log(1.1), 2 * each - np.log(1.1)]
    )


def test_below_one_the_sum_rises_as_events_fail_to_come() -> None:
    assert monitoring.cusum([0] * 200, 0.1, 0.5, 3).signals.tolist() == [58, 117, 176]
    assert (monitoring.cusum([1] * 5, 0.1, 0.5, 3).path == 0).all()


def runs(
    rng: np.random.Generator, risks: Floats, ratio: float, limit: float, true: float
) -> Floats:
    """Return simulated run lengths of many charts beside each other."""
    lengths, at = np.zeros(4000), np.zeros(4000)
    open_ones = np.arange(lengths.size)
    while open_ones.size:
        risk = rng.choice(risks, open_ones.size)
        odds = true * risk / (1 - risk)
        happened = rng.random(open_ones.size) < odds / (1 + odds)
        weight = -np.log(1 + (ratio - 1) * risk) + happened * np.log(ratio)
        at[open_ones] = np.maximum(0, at[open_ones] + weight)
        lengths[open_ones] += 1
        open_ones = open_ones[at[open_ones] < limit]
    return lengths


@pytest.mark.parametrize("ratio", [2.0, 0.5])
@pytest.mark.parametrize("risks", [[0.1], [0.04, 0.08, 0.12, 0.3]])
def test_the_limit_keeps_its_false_alarms_and_its_delay_in_simulation(
    risks: list[float], ratio: float
) -> None:
    rng, mix = np.random.default_rng(11), np.array(risks)
    limit = monitoring.limit_for_arl(risks, ratio, 400)
    for true in (1.0, ratio):
        lengths = runs(rng, mix, ratio, limit, true)
        error = lengths.std() / np.sqrt(lengths.size)
        expected = monitoring.run_length(limit, risks, ratio, true)
        assert lengths.mean() == pytest.approx(expected, abs=3.5 * error)
    assert monitoring.run_length(limit, risks, ratio) == pytest.approx(400, rel=0.02)


def test_a_rarer_false_alarm_needs_a_higher_limit() -> None:
    limits = [monitoring.limit_for_arl(0.1, 2, arl) for arl in (100, 400, 1600)]
    assert limits == sorted(limits)
    for limit, arl in zip(limits, (100, 400, 1600), strict=True):
        assert monitoring.run_length(limit, 0.1, 2) == pytest.approx(arl, rel=0.04)
        assert monitoring.run_length(0.97 * limit, 0.1, 2) < arl


def test_where_any_event_signals_the_run_is_that_to_the_first() -> None:
    limit = monitoring.limit_for_arl(0.01, 2, 50)
    assert monitoring.run_length(limit, 0.01, 2) == pytest.approx(100)


@pytest.mark.parametrize(
    ("n", "target", "words"),
    [
        ([], 0.1, "at least one value"),
        ([0], 0.1, "whole numbers above 0"),
        ([2.5], 0.1, "whole numbers above 0"),
        ([np.nan], 0.1, "missing or infinite"),
        ([10], 0.0, "target must lie between 0 and 1"),
        ([10], 10.0, "target must lie between 0 and 1"),
    ],
)
def test_a_funnel_that_cannot_be_drawn_is_refused(
    n: list[float], target: float, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        monitoring.funnel_limits(n, target)
    with pytest.raises(ValueError, match=words):
        monitoring.overdispersed_limits(n, target, 0.001)


def test_other_bad_limits_are_refused() -> None:
    with pytest.raises(ValueError, match="the level must lie"):
        monitoring.funnel_limits([10], 0.1, levels=(95,))
    with pytest.raises(ValueError, match="tau2 must be 0 or more"):
        monitoring.overdispersed_limits([10], 0.1, -0.1)
    for expected in ([], [0.0], [np.nan], [np.inf]):
        with pytest.raises(ValueError, match="counts above 0"):
            monitoring.ratio_limits(expected)


@pytest.mark.parametrize(
    ("events", "totals", "extra", "words"),
    [
        ([1], [5], {}, "at least two units"),
        ([1, 2], [5], {}, "at least two units"),
        ([1, 6], [5, 5], {}, "none above its total"),
        ([1, 1.5], [5, 5], {}, "whole numbers"),
        ([-1, 1], [5, 5], {}, "must not be negative"),
        ([0, 0], [5, 5], {}, "target must lie between"),
        ([1, 2], [5, 5], {"winsorised": 0.5}, "below one half"),
    ],
)
def test_units_that_cannot_be_are_refused(
    events: list[float], totals: list[float], extra: dict[str, float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        monitoring.overdispersion(events, totals, **extra)


@pytest.mark.parametrize(
    ("outcomes", "expected", "ratio", "limit", "words"),
    [
        ([], 0.1, 2, 3, "at least one value"),
        ([0, 2], 0.1, 2, 3, "only 0 and 1"),
        ([0, np.nan], 0.1, 2, 3, "missing"),
        ([0, 1], [0.1, 0.2, 0.3], 2, 3, "outcomes has 2 values, expected has 3"),
        ([0, 1], 0.0, 2, 3, "risks above 0 and below 1"),
        ([0, 1], [0.1, np.nan], 2, 3, "risks above 0 and below 1"),
        ([0, 1], 0.1, 1, 3, "odds ratio must be above 0 and not 1"),
        ([0, 1], 0.1, -2, 3, "odds ratio must be above 0 and not 1"),
        ([0, 1], 0.1, 2, 0, "limit must be above 0"),
        ([0, 1], 0.1, 2, np.nan, "limit must be above 0"),
    ],
)
def test_a_run_that_cannot_be_charted_is_refused(
    outcomes: list[float], expected: object, ratio: float, limit: float, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        monitoring.cusum(outcomes, expected, ratio, limit)  # type: ignore[arg-type]


def test_run_lengths_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="the run length must be above 1"):
        monitoring.limit_for_arl(0.1, 2, 1)
    with pytest.raises(ValueError, match="no limit within reach"):
        monitoring.limit_for_arl(0.1, 1.0001, 1e6)
    with pytest.raises(ValueError, match="true odds ratio must be above 0"):
        monitoring.run_length(3, 0.1, 2, true_odds_ratio=0)
