import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.estimators.interval import compare, incidence_at, incidences_at, turnbull
from analytics.estimators.proportions import clopper_pearson
from analytics.estimators.survival import kaplan_meier

exact = st.lists(st.tuples(st.integers(1, 20), st.booleans()), min_size=1, max_size=40)


def visits(size: int, seed: int) -> tuple[list[float], list[float]]:
    """Return what looks around set days see of events that come at a steady pace."""
    rng = np.random.default_rng(seed)
    event = rng.exponential(1500, size)
    looks = np.array([14, 42, 91, 183, 365]) + rng.integers(-4, 5, (size, 5))
    seen = rng.random((size, 5)) < 0.85
    left = np.where(seen & (looks < event[:, None]), looks, 0).max(axis=1)
    right = np.where(seen & (looks >= event[:, None]), looks, np.inf).min(axis=1)
    return left.tolist(), right.tolist()


@settings(deadline=None)
@given(exact)
def test_events_known_to_the_day_give_the_product_limit_curve(rows: list[tuple[int, bool]]) -> None:
    days, happened = zip(*rows, strict=True)
    found = turnbull(days, [day if event else np.inf for day, event in rows])
    curve = kaplan_meier(days, happened)
    band = found.cdf(curve.index.to_numpy(float))
    assert band.lower == pytest.approx((1 - curve["survival"]).to_numpy(), abs=1e-6)
    # Behind the last event nothing more is known of whoever is left.
    later = curve.index >= max((day for day, event in rows if event), default=0)
    assert band.upper[~later] == pytest.approx(band.lower[~later], abs=1e-6)


def test_the_frame_has_every_maximal_intersection_and_masses_that_add_up_to_one() -> None:
    found = turnbull([0, 2, 4, 4], [3, 5, 4, np.inf])
    assert found.frame.columns.to_list() == ["left", "right", "mass"]
    assert found.frame["left"].to_list() == [2, 4, 4]
    assert found.frame["right"].to_list() == [3, 4, 5]
    assert found.frame["mass"].sum() == pytest.approx(1)
    assert found.gap < 1e-8
    assert found.subjects == 4


def test_looks_that_are_the_same_for_all_give_the_shares_that_were_seen() -> None:
    found = turnbull([0] * 3 + [10] * 2 + [20] * 5, [10] * 3 + [20] * 2 + [np.inf] * 5)
    assert found.frame["mass"].to_list() == pytest.approx([0.3, 0.2, 0.5])
    assert found.log_likelihood == pytest.approx(
        3 * math.log(0.3) + 2 * math.log(0.2) + 5 * math.log(0.5)
    )


def test_within_an_intersection_the_band_is_open_and_at_its_end_it_is_closed() -> None:
    found = turnbull([0, 4, 6], [4, 6, np.inf])
    for time, lower, upper in [(0, 0, 0), (2, 0, 1), (4, 1, 1), (5, 1, 2), (6, 2, 2), (7, 2, 3)]:
        band = found.cdf(time)
        assert (band.lower, band.upper) == pytest.approx((lower / 3, upper / 3))
    band = found.cdf([2, np.inf])
    assert band.lower.tolist() == pytest.approx([0, 1])
    assert band.upper.tolist() == pytest.approx([1 / 3, 1])


def test_an_event_on_the_day_of_a_look_belongs_to_that_day() -> None:
    found = turnbull([3, 0], [3, 9])
    assert found.cdf(2.9).upper == 0
    assert found.cdf(3).lower == pytest.approx(1)
    assert isinstance(found.cdf(3).lower, float)


def test_where_nobody_had_it_all_of_the_mass_lies_behind_the_last_look() -> None:
    found = turnbull([5, 9, 2], [np.inf] * 3)
    assert found.frame.to_numpy().tolist() == [[9, np.inf, 1]]
    assert found.log_likelihood == 0
    assert found.cdf(9).upper == 0


def test_values_may_come_from_a_frame_and_their_order_does_not_matter() -> None:
    left, right = visits(80, 1)
    frame = pd.DataFrame({"left": left, "right": right})
    one, two = (turnbull(part["left"], part["right"]) for part in (frame, frame[::-1]))
    assert one.frame["mass"].to_numpy() == pytest.approx(two.frame["mass"].to_numpy(), abs=1e-5)
    assert one.log_likelihood == pytest.approx(two.log_likelihood, abs=1e-7)


def test_the_incidence_has_the_estimate_and_an_interval_about_it() -> None:
    left, right = visits(300, 2)
    found = incidence_at(left, right, 187)
    band = turnbull(left, right).cdf(187)
    assert (found.lower, found.upper) == (band.lower, band.upper)
    assert found.estimate == (found.lower + found.upper) / 2
    assert found.low < found.lower <= found.upper < found.high
    assert found.std_error > 0
    assert "log-log" in found.method
    assert "1000 bootstrap" in found.method


def test_the_interval_is_log_log_about_the_estimate() -> None:
    left, right = [0.0] * 30 + [50.0] * 170, [10.0] * 30 + [np.inf] * 170
    found = incidence_at(left, right, 20)
    assert found.std_error == pytest.approx((0.15 * 0.85 / 200) ** 0.5, rel=0.08)
    width = 1.959964 * found.std_error / (0.85 * -math.log(0.85))
    assert found.low == pytest.approx(1 - 0.85 ** math.exp(-width), abs=1e-6)
    assert found.high == pytest.approx(1 - 0.85 ** math.exp(width), abs=1e-6)


def test_a_seed_gives_the_same_interval_and_horizons_together_the_same_as_alone() -> None:
    left, right = visits(120, 3)
    one, same, other = (incidence_at(left, right, 95, seed=seed) for seed in (4, 4, 5))
    assert one == same != other
    assert incidences_at(left, right, [46, 95], seed=4)[1] == one
    assert incidence_at(left, right, 95, level=0.8).low > incidence_at(left, right, 95).low


def test_without_an_event_by_then_the_limit_is_that_of_those_seen_without_it() -> None:
    left, right = [40, 60, 60, 10, 70], [np.inf, np.inf, 90, np.inf, np.inf]
    found = incidence_at(left, right, 50)
    assert (found.estimate, found.low) == (0, 0)
    assert found.high == clopper_pearson(0, 3).high
    assert "no event by the horizon: exact binomial limits for the 3" in found.method
    nobody_left = incidence_at([1, 2], [np.inf, np.inf], 100)
    assert (nobody_left.lower, nobody_left.upper) == (0, 1)


def test_with_every_event_by_then_the_limit_is_that_of_those_seen_with_it() -> None:
    found = incidence_at([0, 3, 5], [4, 8, 9], 20)
    assert (found.estimate, found.high) == (1, 1)
    assert found.low == clopper_pearson(3, 3).low
    assert "every event" in found.method


@pytest.mark.parametrize(
    ("left", "right", "low", "high"), [(10, 10, 0.025, 1), (40, np.inf, 0, 0.975), (0, 90, 0, 1)]
)
def test_one_patient_says_little(left: float, right: float, low: float, high: float) -> None:
    found = incidence_at([left], [right], 30)
    assert (found.low, found.high) == pytest.approx((low, high))


def test_groups_alike_do_not_differ_and_groups_unlike_do() -> None:
    left, right = visits(400, 5)
    alike = compare(left, right, [number % 2 for number in range(400)])
    assert alike.p_value > 0.01
    later = [value * 3 for value in left]
    apart = compare(left + later, right + [value * 3 for value in right], ["a"] * 400 + ["b"] * 400)
    assert apart.p_value < 0.002
    assert apart.p_permutation == pytest.approx(apart.p_value, abs=0.001)
    assert apart.frame.loc["a", "score"] > 0 > apart.frame.loc["b", "score"]
    assert apart.z == pytest.approx(apart.statistic**0.5)
    assert "permutation" in apart.method


def test_three_groups_have_two_degrees_of_freedom_and_no_sign() -> None:
    left, right = visits(90, 6)
    found = compare(left, right, ["b", "a", "c"] * 30)
    assert (found.df, found.frame.index.to_list()) == (2, ["a", "b", "c"])
    assert math.isnan(found.z)
    assert found.p_permutation == pytest.approx(found.p_value, abs=0.03)
    assert found.frame["score"].sum() == pytest.approx(0, abs=1e-5)
    again = compare(left, right, ["b", "a", "c"] * 30)
    assert again.p_permutation == found.p_permutation


def test_a_group_of_one_is_compared_by_relabelling() -> None:
    found = compare([0, 50, 50, 50], [10, np.inf, np.inf, np.inf], [1, 2, 2, 2])
    # The one early event falls to the group of one in one of four labellings.
    assert found.p_permutation == pytest.approx(0.25, abs=0.02)


def test_where_nobody_had_it_groups_do_not_differ() -> None:
    found = compare([5, 9, 2], [np.inf] * 3, [1, 1, 2])
    assert (found.statistic, found.p_value, found.p_permutation) == (0, 1, 1)


def test_of_many_subjects_fewer_samples_are_drawn_and_none_are_relabelled() -> None:
    left, right = visits(5001, 8)
    found = incidence_at(left, right, 187)
    assert "200 bootstrap" in found.method
    every = incidences_at(left, right, [187], resamples=1000)[0]
    assert found.std_error == pytest.approx(every.std_error, rel=0.15)
    test = compare(left, right, [number % 2 for number in range(5001)])
    assert test.p_permutation == test.p_value


@pytest.mark.parametrize(
    ("left", "right", "words"),
    [
        ([], [], "at least one value"),
        ([1, 2], [3], "left has 2 values, right has 1"),
        ([-1], [3], "must not be negative"),
        ([np.nan], [3], "missing or infinite"),
        ([np.inf], [np.inf], "missing or infinite"),
        ([1], [np.nan], "right must not hold missing values"),
        ([4], [3], "no right may be before its left"),
        (["a"], [3], "numbers only"),
    ],
)
def test_intervals_that_cannot_be_are_refused(
    left: list[float], right: list[float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        turnbull(left, right)
    with pytest.raises(ValueError, match=words):
        incidence_at(left, right, 2)
    with pytest.raises(ValueError, match=words):
        compare(left, right, list(range(len(left))))


def test_questions_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="horizons must not be negative"):
        incidence_at([1], [2], -3)
    with pytest.raises(ValueError, match="the level must lie"):
        incidence_at([1], [2], 3, level=95)
    with pytest.raises(ValueError, match="two bootstrap samples"):
        incidences_at([1], [2], [3], resamples=1)
    with pytest.raises(ValueError, match="t must not be missing"):
        turnbull([1], [2]).cdf(np.nan)
    for groups in ([1, 1], [1, None]):
        with pytest.raises(ValueError, match="groups must name at least two"):
            compare([1, 2], [2, 3], groups)
    with pytest.raises(ValueError, match="left has 2 values, groups has 3"):
        compare([1, 2], [2, 3], [1, 2, 3])
