import numpy as np
import pytest

from analytics.answers import running


def test_a_chart_says_when_it_crossed_and_what_was_expected_till_then() -> None:
    # Weights for a doubling of odds at a risk of 0.10: +0.597837 and -0.095310 (Steiner 2000).
    outcomes = [False, True, True, False, True, False, True, True, True]
    found = running.read(outcomes, [0.1] * 9, 2.0, 1.6)
    assert found.path[:5] == pytest.approx([0, 0.597837, 1.195674, 1.100364, 1.698201], abs=1e-5)
    (one, two) = found.crossings
    assert (one.position, one.cases, one.events) == (4, 5, 3)
    assert one.expected_events == pytest.approx(0.5)
    assert (two.position, two.cases, two.events) == (8, 4, 3)
    assert found.now == 0.0


def test_the_present_sum_is_that_of_the_last_case() -> None:
    found = running.read([False, True], [0.1, 0.1], 2.0, 3.0)
    assert found.now == pytest.approx(0.597837, abs=1e-5)
    assert found.crossings == ()


def test_a_chart_without_cases_says_nothing() -> None:
    found = running.read([], [], 2.0, 3.0)
    assert (found.path, found.crossings, found.now) == ((), (), 0.0)


def test_the_limit_comes_from_the_false_alarms_that_are_borne() -> None:
    found = running.limit_for([0.1] * 50, 2.0, 240.0)
    # Run lengths 240.0 in control and 44.4 at doubled odds for a limit of 2: computed with another
    # implementation of the Markov chain (see tests/reference).
    assert found.limit == pytest.approx(2.0, abs=0.01)
    assert found.false_alarm == pytest.approx(240, rel=0.02)
    assert found.delay == pytest.approx(44.4, rel=0.02)


def test_where_every_event_signals_the_limit_is_what_one_event_adds() -> None:
    found = running.limit_for([0.011], 2.0, 60.0)
    chart = running.read([False, True, False, True], [0.011] * 4, 2.0, found.limit)
    assert found.limit == pytest.approx(0.6822, abs=1e-4)
    assert [one.position for one in chart.crossings] == [1, 3]
    # One event in 1 / 0.011 cases.
    assert found.false_alarm == pytest.approx(1 / 0.011, rel=0.01)


def test_a_run_length_that_no_limit_gives_is_refused() -> None:
    with pytest.raises(ValueError, match="run length must be above 1"):
        running.limit_for([0.1], 2.0, 1.0)


def runs_to_crossing(rng: np.random.Generator, odds: float, limit: float, runs: int) -> float:
    """Return the mean number of cases until charts of a mixed population cross."""
    lengths = []
    for _ in range(runs):
        risks = rng.choice([0.05, 0.10, 0.25], size=6000)
        true = odds * risks / (1 - risks + odds * risks)
        found = running.read((rng.random(risks.size) < true).tolist(), risks.tolist(), 2.0, limit)
        lengths.append(found.crossings[0].position + 1 if found.crossings else risks.size)
    return float(np.mean(lengths))


def test_a_site_in_control_gives_as_many_false_alarms_as_its_design_says() -> None:
    rng = np.random.default_rng(2026)
    design = running.limit_for([0.05, 0.10, 0.25], 2.0, 150.0)
    runs = 600
    mean = runs_to_crossing(rng, 1.0, design.limit, runs)
    # Run lengths are about exponential: the mean of 600 has a standard error of 150 / sqrt(600) = 6.
    assert mean == pytest.approx(design.false_alarm, abs=4 * design.false_alarm / np.sqrt(runs))


def test_a_site_whose_odds_have_doubled_is_found_about_as_soon_as_its_design_says() -> None:
    rng = np.random.default_rng(2027)
    design = running.limit_for([0.05, 0.10, 0.25], 2.0, 150.0)
    runs = 600
    mean = runs_to_crossing(rng, 2.0, design.limit, runs)
    assert mean == pytest.approx(design.delay, abs=4 * design.delay / np.sqrt(runs))
    assert design.delay < design.false_alarm / 3


def test_a_place_whose_case_was_withdrawn_leaves_the_sum_as_it_stood() -> None:
    outcomes, expected = [True, True, False, True, False], [0.2] * 5
    without = running.read(outcomes, expected, 2.0, 9.0).path
    emptied = running.read(
        [True, False, True, False, True, False], [0.2, 0.0, *[0.2] * 4], 2.0, 9.0
    )
    assert emptied.path == (without[0], without[0], *without[1:])
    assert running.read([False], [0.0], 2.0, 1.0).path == (0.0,)


def test_a_crossing_counts_no_withdrawn_case_and_keeps_its_place() -> None:
    found = running.read([True, False, True, True], [0.2, 0.0, 0.2, 0.2], 2.0, 1.0)
    (crossing,) = found.crossings
    assert (crossing.position, crossing.cases, crossing.events) == (2, 2, 2)
    after = running.read([True, True, False, True], [0.2, 0.2, 0.0, 0.2], 2.0, 1.0)
    assert after.crossings[0].position == 1
    assert after.path[2] == 0.0
