"""A protocol as a picture: every window stands where its days are."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.protocol_picture import LEAST_WIDTH, MARGIN, WIDTH, picture, place
from followup.rules.steps import StepFacts

TWO_WEEKS = StepFacts("2w", "2 weeks", 2, "weeks", 4, 7, wound_check=True)
SIX_WEEKS = StepFacts("6w", "6 weeks", 6, "weeks", 14, 14, motion=True, horizon="6w")
YEAR = StepFacts("12m", "12 months", 12, "months", 60, 90, motion=True, horizon="12m")
THREE = (TWO_WEEKS, SIX_WEEKS, YEAR)


def test_the_axis_goes_from_the_operation_to_the_last_closing_day() -> None:
    drawn = picture({"one": THREE})
    assert place(0, 455) == MARGIN
    last = drawn.rows[-1].bars[0]
    assert last.x + last.width == WIDTH - MARGIN
    assert last.due_x == place(365, 455)
    assert [tick.label for tick in drawn.ticks] == ["0", "2 w", "6 w", "3 m", "6 m", "12 m"]


def test_each_step_is_one_row_with_its_window_due_day_and_horizon() -> None:
    drawn = picture({"one": THREE})
    assert [(row.name, row.horizon) for row in drawn.rows] == [
        ("2 weeks", ""),
        ("6 weeks", "6 weeks"),
        ("12 months", "12 months"),
    ]
    six = drawn.rows[1].bars[0]
    # Due on day 42, open from day 28 to day 56, on an axis of 455 days.
    assert (six.x, six.due_x) == (place(28, 455), place(42, 455))
    assert six.width == round(place(56, 455) - place(28, 455), 1)
    assert six.words == (
        "6 weeks: due 6 weeks after the operation, 14 days before to 14 days after"
    )
    assert not any(row.differs for row in drawn.rows)


def test_two_versions_stand_above_each_other_on_one_axis() -> None:
    later = replace(SIX_WEEKS, offset_value=8)
    drawn = picture({"version 1": THREE, "version 2": (TWO_WEEKS, later)})
    rows = {row.name: row for row in drawn.rows}
    assert [bar.lane for bar in rows["2 weeks"].bars] == [0, 1]
    assert rows["2 weeks"].bars[0].x == rows["2 weeks"].bars[1].x
    upper, lower = rows["6 weeks"].bars
    assert upper.y < lower.y
    assert upper.due_x < lower.due_x
    assert lower.words.startswith("version 2, 6 weeks: due 8 weeks")
    assert [bar.lane for bar in rows["12 months"].bars] == [0]
    assert [row.differs for row in drawn.rows] == [False, True, True]
    assert drawn.words == (
        "version 1: 3 steps, the last due 12 months after the operation; "
        "version 2: 2 steps, the last due 8 weeks after the operation"
    )


def test_a_step_that_collects_something_else_differs_on_the_same_days() -> None:
    drawn = picture({"a": [SIX_WEEKS], "b": [replace(SIX_WEEKS, motion=False)]})
    assert drawn.rows[0].differs


def test_a_window_of_one_day_is_still_seen() -> None:
    drawn = picture({"a": [replace(TWO_WEEKS, window_before_days=0, window_after_days=0), YEAR]})
    assert drawn.rows[0].bars[0].width == LEAST_WIDTH


def test_labels_of_the_axis_do_not_run_into_each_other() -> None:
    drawn = picture({"a": [TWO_WEEKS, replace(YEAR, offset_value=600)]})
    apart = [after.x - before.x for before, after in pairwise(drawn.ticks)]
    assert min(apart) >= 28
    assert drawn.ticks[-1].label == "50 y"


def test_without_a_step_there_is_no_picture() -> None:
    with pytest.raises(ValueError, match="no step to be drawn"):
        picture({"a": []})


@given(
    steps=st.lists(
        st.builds(
            StepFacts,
            code=st.sampled_from(["a", "b", "c", "d"]),
            name=st.just("a step"),
            offset_value=st.integers(0, 1200),
            offset_unit=st.sampled_from(["days", "weeks", "months"]),
            window_before_days=st.integers(0, 3650),
            window_after_days=st.integers(0, 3650),
        ),
        min_size=1,
        max_size=4,
        unique_by=lambda one: one.code,
    )
)
def test_nothing_is_drawn_outside_the_picture(steps: list[StepFacts]) -> None:
    drawn = picture({"a": steps, "b": steps[:1]})
    for row in drawn.rows:
        for bar in row.bars:
            assert MARGIN <= bar.x <= bar.due_x <= WIDTH - MARGIN
            assert bar.x + bar.width <= WIDTH - MARGIN + LEAST_WIDTH
            assert bar.due_bottom <= drawn.axis_y
    bottoms = [bar.y for row in drawn.rows for bar in row.bars]
    assert bottoms == sorted(bottoms)
    assert drawn.axis_y < drawn.height
