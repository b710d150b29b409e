"""How long questions wait, those still open counted as open."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.estimators.competing import cumulative_incidence
from followup.rules.decision_times import AT_DAYS, FEW, End, Wait, times

CODES = {End.OPEN: 0, End.LEFT: 0, End.ANSWERED: 1, End.OTHERWISE: 2}

# Remission in weeks, Freireich et al., Blood 1963;21:699, as printed by Gehan, Biometrika 1965;52:203:
# 21 patients with 6-mercaptopurine, 12 of them still in remission, and 21 with placebo.
RELAPSED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
STILL = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
PLACEBO = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)


def test_the_published_medians_come_out_with_the_open_ones_counted() -> None:
    treated = times(
        [
            *(Wait(week, End.ANSWERED) for week in RELAPSED),
            *(Wait(week, End.OPEN) for week in STILL),
        ]
    )
    placebo = times(Wait(week, End.ANSWERED) for week in PLACEBO)
    # The printed medians are 23 and 8 weeks; of the nine relapses alone the middle one is 10.
    assert (treated.quartiles[1], placebo.quartiles[1]) == (23, 8)
    assert (treated.raised, treated.answered, treated.open) == (21, 9, 12)
    assert (treated.middle_open, treated.longest_open) == (19.5, 35)


def test_half_that_is_not_reached_is_not_invented() -> None:
    found = times([Wait(10, End.ANSWERED, 2), Wait(40, End.OPEN, 3)])
    # 2 of 5 by day 10: a quarter is reached, half is not
    assert found.quartiles == (10, None, None)
    assert found.shares == (0.4, 0.4, 0.4, 0.4)
    assert found.percents == (40, 40, 40, 40)


def test_what_was_declined_never_ends_in_a_removal() -> None:
    # One of four declined on day 5; then one of three removed on each of days 10 and 20, one open:
    # 3/4 x 1/3 = 1/4 by day 10, and 3/4 x 2/3 x 1/2 = 1/4 more by day 20.
    found = times(
        [
            Wait(5, End.OTHERWISE),
            Wait(10, End.ANSWERED),
            Wait(20, End.ANSWERED),
            Wait(30, End.OPEN),
        ]
    )
    assert found.shares == pytest.approx((0.5, 0.5, 0.5, 0.5))
    assert found.quartiles == (10, 20, None)


def test_every_question_is_counted_once() -> None:
    found = times([Wait(day, end, 2) for day, end in enumerate(End)])
    assert found.raised == found.answered + found.otherwise + found.open + found.left == 8


def test_without_a_question_there_is_nothing() -> None:
    found = times([])
    assert (found.raised, found.middle_open, found.longest_open) == (0, None, None)
    assert found.quartiles == (None, None, None)
    assert found.too_few


@pytest.mark.parametrize(("raised", "few"), [(FEW - 1, True), (FEW, False)])
def test_small_numbers_say_so(raised: int, *, few: bool) -> None:
    assert times([Wait(3, End.ANSWERED, raised)]).too_few is few


def test_a_wait_before_the_question_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot have waited -1 days"):
        times([Wait(-1, End.OPEN)])


@settings(max_examples=40)
@given(
    waits=st.lists(
        st.tuples(st.integers(0, 400), st.sampled_from(list(End))), min_size=1, max_size=40
    )
)
def test_shares_are_those_of_the_estimator_of_the_figures(waits: list[tuple[int, End]]) -> None:
    found = times(Wait(days, end) for days, end in waits)
    frame = cumulative_incidence(
        np.array([days for days, _ in waits], dtype=float),
        np.array([CODES[end] for _, end in waits]),
        cause=1,
    )
    for day, share in zip(AT_DAYS, found.shares, strict=True):
        until = frame.loc[frame.index <= day, "incidence"]
        assert share == pytest.approx(0.0 if until.empty else float(until.iloc[-1]), abs=1e-9)
