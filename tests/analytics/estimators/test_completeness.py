import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.completeness import (
    lost_to_failure,
    person_time_completeness,
    tipping_point,
)

# Own arithmetic: 120 index operations, 104 evaluable, 10 lost their reduction, 16 not evaluable.
COUNTS = (10, 104, 120)


def test_person_time_is_observed_over_potential() -> None:
    # Own arithmetic: the fourth had the event at 6 months, which ends what could be observed.
    found = person_time_completeness([24, 24, 10, 6], [24, 24, 24, 6])
    assert found == 64 / 78
    assert round(found, 4) == 0.8205


def test_everybody_seen_to_the_end_is_complete_and_nobody_seen_is_not() -> None:
    assert person_time_completeness([3, 4], [3, 4]) == 1
    assert person_time_completeness([0, 0], [3, 4]) == 0


@pytest.mark.parametrize(
    ("observed", "potential", "words"),
    [
        ([], [], "at least one value"),
        ([1, 2], [1], "observed has 2 values, potential has 1"),
        ([3], [2], "longer than their potential"),
        ([-1], [2], "negative"),
        ([math.nan], [2], "missing"),
        ([0], [0], "no potential time"),
    ],
)
def test_times_that_cannot_be_are_refused(
    observed: list[float], potential: list[float], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        person_time_completeness(observed, potential)


def test_the_lost_are_quoted_for_each_failure() -> None:
    assert lost_to_failure(16, 10) == 1.6
    assert lost_to_failure(0, 10) == 0
    assert lost_to_failure(16, 0) is None
    with pytest.raises(ValueError, match="negative"):
        lost_to_failure(-1, 3)


def test_a_rate_exceeds_its_target_once_so_many_of_the_unseen_have_failed() -> None:
    found = tipping_point(*COUNTS, target=0.15)
    assert (found.unseen, found.at) == (16, 9)
    assert (found.events + 8) / 120 == 0.15
    assert round((found.events + 9) / 120, 4) == 0.1583
    assert (found.bounds.low, found.bounds.high) == pytest.approx((0.08333, 0.21667), abs=5e-6)


def test_a_target_can_be_exceeded_already_or_out_of_reach() -> None:
    assert tipping_point(*COUNTS, target=0.05).at == 0
    assert tipping_point(*COUNTS, target=0.22).at is None
    assert tipping_point(0, 5, 5, target=0.0).at is None
    assert tipping_point(*COUNTS, target=1).at is None


@given(st.tuples(*[st.integers(0, 60)] * 3), st.integers(0, 100))
def test_the_tipping_point_is_the_first_that_exceeds(
    parts: tuple[int, int, int], percent: int
) -> None:
    events, held, unseen = parts
    if not sum(parts):
        return
    found = tipping_point(events, events + held, sum(parts), percent / 100)
    # In whole numbers, so that nothing is rounded.
    over = [(events + more) * 100 > percent * sum(parts) for more in range(unseen + 1)]
    assert found.at == (over.index(True) if any(over) else None)


def test_a_target_that_is_no_share_and_counts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="the target must lie between 0 and 1, got 15"):
        tipping_point(*COUNTS, target=15)
    with pytest.raises(ValueError, match="events <= evaluable <= eligible"):
        tipping_point(11, 10, 12, target=0.1)
