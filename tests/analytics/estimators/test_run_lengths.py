import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analytics.estimators.run_lengths import (
    Steps,
    average_run_length,
    bernoulli_steps,
    log_likelihood_weights,
)


def plain(steps: Steps, states: int) -> float:
    """Solve for the run lengths of all states at once, with whole steps."""
    moves = np.zeros((states, states))
    for at in range(states):
        for size, share in zip(steps.sizes.astype(int), steps.shares, strict=True):
            if at + size < states:
                moves[at, max(0, at + size)] += share
    return float(np.linalg.solve(np.eye(states) - moves, np.ones(states))[0])


@settings(deadline=None)
@given(
    st.lists(st.integers(-8, 8), min_size=1, max_size=5),
    st.integers(1, 8),
    st.integers(1, 30),
)
def test_whole_steps_give_the_run_length_of_the_plain_chain(
    sizes: list[int], up: int, states: int
) -> None:
    every = np.array([*sizes, up], dtype=float)
    steps = Steps(every, np.full(every.size, 1 / every.size))
    expected = plain(steps, states)
    # Beyond, the plain solution itself is lost in rounding, down to below nought.
    assume(0 < expected < 1e7)
    assert average_run_length(steps, 1.0, states) == pytest.approx(expected, rel=1e-6)


def test_a_step_between_two_states_is_shared_so_that_its_mean_is_kept() -> None:
    shared = average_run_length(Steps(np.array([0.25]), np.array([1.0])), 1.0, 3)
    assert shared == pytest.approx(3 / 0.25)


def test_a_step_that_crosses_at_once_needs_one_case() -> None:
    assert average_run_length(Steps(np.array([5.0]), np.array([1.0])), 1.0, 3) == 1.0


def test_a_sum_that_never_rises_never_gets_there() -> None:
    with pytest.raises(ValueError, match="no step leads upwards"):
        average_run_length(Steps(np.array([-1.0, 0.0]), np.array([0.5, 0.5])), 1.0, 3)


def test_the_weights_are_the_logs_of_the_likelihood_ratios() -> None:
    without, with_event = log_likelihood_weights(np.array([0.1, 0.4]), 3.0)
    worse = 3 * np.array([0.1, 0.4]) / (1 + 2 * np.array([0.1, 0.4]))
    assert with_event == pytest.approx(np.log(worse / [0.1, 0.4]))
    assert without == pytest.approx(np.log((1 - worse) / [0.9, 0.6]))


def test_steps_of_equal_risks_are_one_and_keep_their_share() -> None:
    steps = bernoulli_steps(np.array([0.1, 0.2, 0.1, 0.1]), 2.0, 1.0)
    assert steps.shares.tolist() == pytest.approx([0.675, 0.2, 0.075, 0.05])
    assert bernoulli_steps(np.array([0.2]), 2.0, 2.0).shares.tolist() == pytest.approx(
        [2 / 3, 1 / 3]
    )
