import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.survival import kaplan_meier, log_log_limits

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
