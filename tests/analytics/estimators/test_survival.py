import itertools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.survival import (
    kaplan_meier,
    log_log_limits,
    logrank,
    observed_expected,
    parts_of,
    quadratic_form,
    rmst,
)

subjects = st.lists(st.tuples(st.integers(0, 30), st.booleans()), min_size=1, max_size=60)


def by_hand(rows: list[tuple[float, float, bool]]) -> dict[float, tuple[int, float]]:
    """Go through the times one by one: (entry, time, happened) -> at risk and survival."""
    share, curve = 1.0, {}
    for time in sorted({row[1] for row in rows}):
        at_risk = sum(entry < time <= end for entry, end, _ in rows)
        events = sum(end == time and happened for _, end, happened in rows)
        share *= 1 - events / at_risk
        curve[time] = (at_risk, share)
    return curve


@given(subjects)
def test_the_curve_is_that_of_a_loop_over_the_times(rows: list[tuple[int, bool]]) -> None:
    found = kaplan_meier(*zip(*rows, strict=True))
    expected = by_hand([(-1.0, time, happened) for time, happened in rows])
    assert list(found.index) == list(expected)
    assert found["at_risk"].to_list() == [at_risk for at_risk, _ in expected.values()]
    assert found["survival"].to_list() == pytest.approx(
        [share for _, share in expected.values()], abs=1e-12
    )


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(1, 20), st.booleans()), min_size=1))
def test_a_late_entrant_is_at_risk_only_after_entry(rows: list[tuple[int, int, bool]]) -> None:
    whole = [(entry, entry + stay, happened) for entry, stay, happened in rows]
    entries, times, happened = zip(*whole, strict=True)
    found = kaplan_meier(times, happened, entry=entries)
    expected = by_hand([(float(a), float(b), c) for a, b, c in whole])
    assert found["at_risk"].to_list() == [at_risk for at_risk, _ in expected.values()]
    assert found["survival"].to_list() == pytest.approx(
        [share for _, share in expected.values()], abs=1e-12
    )


@given(subjects, st.randoms(use_true_random=False))
def test_the_order_of_the_subjects_does_not_matter(
    rows: list[tuple[int, bool]], chance: np.random.Generator
) -> None:
    shuffled = list(rows)
    chance.shuffle(shuffled)
    one, two = (kaplan_meier(*zip(*given, strict=True)) for given in (rows, shuffled))
    assert one.equals(two)


@given(subjects)
def test_the_limits_hold_the_curve_and_counts_add_up(rows: list[tuple[int, bool]]) -> None:
    found = kaplan_meier(*zip(*rows, strict=True))
    assert (found["low"] <= found["survival"] + 1e-15).all()
    assert (found["survival"] <= found["high"] + 1e-15).all()
    assert (found["events"] + found["censored"]).sum() == len(rows)
    assert found["survival"].is_monotonic_decreasing


def test_a_weight_of_two_is_two_subjects() -> None:
    once = kaplan_meier([2, 2, 3, 5, 5], [1, 1, 0, 1, 1])
    weighted = kaplan_meier([2, 3, 5], [1, 0, 1], weights=[2, 1, 2])
    assert weighted.equals(once)


def test_broken_weights_still_end_at_zero_when_the_last_has_the_event() -> None:
    found = kaplan_meier([1, 2, 3], [0, 0, 1], entry=[0, 0, 0], weights=[0.1, 0.2, 0.3])
    assert found["survival"].iloc[-1] == 0.0
    assert found["at_risk"].to_list() == pytest.approx([0.6, 0.5, 0.3])


def test_an_event_comes_before_a_censoring_on_its_day() -> None:
    found = kaplan_meier([4, 4], [1, 0])
    assert found.loc[4, "survival"] == 0.5
    assert found.loc[4, "at_risk"] == 2


def test_without_events_the_curve_stays_at_one() -> None:
    found = kaplan_meier([1, 2, 3], [0, 0, 0])
    assert (found[["survival", "low", "high"]] == 1).all().all()
    assert (found["std_error"] == 0).all()


def test_one_patient_with_the_event_ends_the_curve() -> None:
    found = kaplan_meier([7], [True])
    assert found.loc[7, ["at_risk", "events", "survival"]].to_list() == [1, 1, 0]


def test_one_patient_a_group_can_be_compared() -> None:
    found = logrank([3, 7], [1, 0], ["a", "b"])
    # Own arithmetic: one event among two at risk, half expected in either group.
    assert (found.statistic, found.df) == (pytest.approx(1.0), 1)
    assert rmst([7], [True], 5).estimate == 5


def test_a_higher_level_widens_the_limits() -> None:
    wide, narrow = (kaplan_meier([1, 2, 3, 4], [1, 0, 1, 0], level=level) for level in (0.99, 0.8))
    assert (wide["low"] < narrow["low"]).all()
    assert (wide["high"] > narrow["high"]).all()


@pytest.mark.parametrize(
    ("observed", "extra", "words"),
    [
        ([1, 2], {}, "observed must hold only 0 and 1"),
        ([1], {}, "durations has 2 values, observed has 1"),
        ([1, np.nan], {}, "observed must hold whole numbers"),
        ([1, 0], {"entry": [0, 3]}, "each entry must be before its duration"),
        ([1, 0], {"weights": [1, -1]}, "weights must be finite, not negative"),
        ([1, 0], {"weights": [1]}, "weights must be finite, not negative, and one for each"),
        ([1, 0], {"level": 95}, "the level must lie between 0 and 1"),
    ],
)
def test_bad_input_is_refused_in_words(
    observed: list[float], extra: dict[str, list[float]], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        kaplan_meier([2, 3], observed, **extra)  # type: ignore[arg-type]  # wrong on purpose


def test_limits_of_a_certain_share_are_the_share() -> None:
    low, high = log_log_limits(np.array([0.0, 0.5, 1.0]), np.array([np.nan, 0.1, 0.0]), 0.95)
    assert low[[0, 2]].tolist() == high[[0, 2]].tolist() == [0.0, 1.0]
    assert low[1] < 0.5 < high[1]


def test_times_with_broken_days_have_the_same_curve_as_whole_ones() -> None:
    days, happened = np.array([3, 1, 1, 7, 12, 3, 9]), [1, 0, 1, 1, 0, 0, 1]
    whole, broken = kaplan_meier(days, happened), kaplan_meier(days / 8 + 0.0625, happened)
    assert list(broken.index) == [day / 8 + 0.0625 for day in whole.index]
    assert broken.to_numpy() == pytest.approx(whole.to_numpy())


def area_by_hand(rows: list[tuple[int, bool]], horizon: float) -> tuple[float, float]:
    """Add up the area under the curve in strips, and its variance by areas left after each time."""

    def area(start: float) -> float:
        edges = [start, *(t for t in curve if start < t < horizon), horizon]
        return sum(
            (b - a) * min([s for t, (_, s) in curve.items() if t <= a], default=1.0)
            for a, b in itertools.pairwise(edges)
        )

    curve = by_hand([(-1.0, time, happened) for time, happened in rows])
    variance = 0.0
    for time, (at_risk, _) in curve.items():
        events = sum(end == time and happened for end, happened in rows)
        if events < at_risk and time < horizon:
            variance += area(time) ** 2 * events / (at_risk * (at_risk - events))
    return area(0.0), variance**0.5


@given(st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=40), st.data())
def test_the_restricted_mean_is_the_area_in_strips(
    rows: list[tuple[int, bool]], data: st.DataObject
) -> None:
    horizon = data.draw(st.floats(0.5, max(time for time, _ in rows)))
    found = rmst(*zip(*rows, strict=True), horizon)
    mean, std_error = area_by_hand(rows, horizon)
    assert found.estimate == pytest.approx(mean, abs=1e-9)
    assert found.std_error == pytest.approx(std_error, abs=1e-9)
    assert found.low <= found.estimate <= found.high <= horizon + 2 * found.std_error + 1e-9


def test_without_censoring_the_restricted_mean_is_a_plain_mean() -> None:
    times = np.array([2, 2, 3, 5, 8, 8, 13])
    found = rmst(times, np.ones(7), 8)
    cut = np.minimum(times, 8)
    assert found.estimate == pytest.approx(cut.mean())
    assert found.std_error == pytest.approx(cut.std() / np.sqrt(7))


def test_a_restricted_mean_may_go_beyond_the_last_event_only_at_zero() -> None:
    assert rmst([1, 3], [1, 1], 10).estimate == 2
    with pytest.raises(ValueError, match="known up to 3 only, which is before the horizon 10"):
        rmst([1, 3], [1, 0], 10)


@pytest.mark.parametrize("horizon", [0, -1, np.nan, np.inf, "a year", None])
def test_a_horizon_that_cannot_be_is_refused(horizon: object) -> None:
    with pytest.raises(ValueError, match="the horizon must be above 0"):
        rmst([1, 3], [1, 0], horizon)  # type: ignore[arg-type]  # wrong on purpose


grouped = st.lists(
    st.tuples(st.integers(0, 15), st.booleans(), st.integers(0, 3), st.integers(0, 2)),
    min_size=2,
    max_size=60,
).filter(lambda rows: len({row[2] for row in rows}) > 1)
Grouped = list[tuple[int, bool, int, int]]


def logrank_by_hand(rows: Grouped, labels: list[int], rho: float) -> tuple[list[float], float]:
    """Go through strata and event times one by one: expected events and the statistic."""
    size = len(labels)
    expected, gap, variance = np.zeros(size), np.zeros(size), np.zeros((size, size))
    for stratum in {row[3] for row in rows}:
        inside, share = [row for row in rows if row[3] == stratum], 1.0
        for time in sorted({row[0] for row in inside if row[1]}):
            n = np.array([sum(r[0] >= time and r[2] == one for r in inside) for one in labels])
            d = np.array([sum(r[:3] == (time, True, one) for r in inside) for one in labels])
            part = n / n.sum()
            expected += d.sum() * part
            gap += share**rho * (d - d.sum() * part)
            if n.sum() > 1:
                factor = share ** (2 * rho) * d.sum() * (n.sum() - d.sum()) / (n.sum() - 1)
                variance += factor * (np.diag(part) - np.outer(part, part))
            share *= 1 - d.sum() / n.sum()
    return expected.tolist(), float(gap @ np.linalg.pinv(variance, 1e-9, hermitian=True) @ gap)


@given(grouped, st.sampled_from([0.0, 1.0]))
def test_the_logrank_is_that_of_a_loop_over_strata_and_times(rows: Grouped, rho: float) -> None:
    times, happened, groups, strata = zip(*rows, strict=True)
    found = logrank(times, happened, groups, strata, rho=rho)
    expected, statistic = logrank_by_hand(rows, sorted(set(groups)), rho)
    assert found.frame["expected"].to_list() == pytest.approx(expected)
    assert found.statistic == pytest.approx(statistic, abs=1e-8)
    assert found.frame["observed"].sum() == sum(happened)
    assert 0 <= found.p_value <= 1


@given(grouped)
def test_names_of_groups_do_not_change_the_test(rows: Grouped) -> None:
    times, happened, groups, _ = zip(*rows, strict=True)
    named = logrank(times, happened, ["dcba"[group] for group in groups])
    plain = logrank(times, happened, groups)
    assert named.statistic == pytest.approx(plain.statistic, abs=1e-9)
    assert named.df == plain.df


def test_a_group_that_empties_before_the_first_event_takes_no_part() -> None:
    times, happened = [1, 1, 5, 6, 7, 8], [0, 0, 1, 1, 0, 1]
    with_it = logrank(times, happened, ["c", "c", "a", "b", "a", "b"])
    without = logrank(times[2:], happened[2:], ["a", "b", "a", "b"])
    assert with_it.statistic == pytest.approx(without.statistic)
    assert with_it.df == without.df == 1
    assert with_it.frame.loc["c"].to_list() == [0, 0]


def test_without_an_event_there_is_no_difference() -> None:
    found = logrank([1, 2, 3], [0, 0, 0], [1, 2, 3])
    assert (found.statistic, found.df, found.p_value) == (0, 2, 1)


def test_groups_that_are_never_at_risk_together_cannot_be_compared() -> None:
    found = logrank([1, 2, 8, 9], [1, 1, 1, 1], list("aabb"), strata=list("aabb"))
    assert (found.statistic, found.p_value) == (0, 1)


def test_bad_groups_are_refused_in_words() -> None:
    with pytest.raises(ValueError, match="a comparison needs at least two groups"):
        logrank([1, 2], [1, 1], [1, 1])
    with pytest.raises(ValueError, match="durations has 2 values, groups has 3"):
        logrank([1, 2], [1, 1], [1, 2, 1])
    with pytest.raises(ValueError, match="strata must not hold missing values"):
        logrank([1, 2], [1, 1], [1, 2], strata=["a", None])
    with pytest.raises(ValueError, match="durations must not be negative"):
        logrank([-1, 2], [1, 1], [1, 2])


def test_scores_in_fewer_directions_have_less_freedom() -> None:
    variance = np.array([[2.0, -2.0, 0.0], [-2.0, 2.0, 0.0], [0.0, 0.0, 0.0]])
    statistic, df, p_value = quadratic_form(np.array([2.0, -2.0, 0.0]), variance)
    assert (statistic, df) == (pytest.approx(2.0), 1)
    assert p_value == pytest.approx(0.1573, abs=5e-5)


def test_strata_part_the_rows() -> None:
    assert [rows.tolist() for rows in parts_of([2, 1, 2], 3)] == [[1], [0, 2]]  # type: ignore[union-attr]
    assert parts_of(None, 3) == [slice(None)]


def test_a_group_has_a_row_of_what_it_had_and_would_have() -> None:
    found = observed_expected(np.array([2.0, 0.0]), np.array([0.5, 1.5]), pd.Index(["a", "b"]))
    assert found.loc["a"].to_dict() == {"observed": 2, "expected": 0.5}
