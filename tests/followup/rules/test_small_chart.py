from datetime import date
from typing import Any

import pytest

from followup.rules.small_chart import HEIGHT, WIDTH, Point, SmallChart, Span, small_chart

START, END = date(2026, 6, 1), date(2026, 12, 1)


def chart(*points: Point, **more: Any) -> SmallChart:
    given = {"low": 0, "high": 100, "starts_on": START, "ends_on": END, **more}
    made = small_chart(points, **given)
    assert made is not None
    return made


def test_days_go_across_and_values_upwards() -> None:
    made = chart(Point(START, 0), Point(date(2026, 8, 31), 50), Point(END, 100))
    first, middle, last = made.dots
    assert (first.x, first.y) == (made.left, made.floor)
    assert last.x == made.right
    assert last.y < middle.y < first.y
    # 91 of 183 days.
    assert middle.x == pytest.approx(made.left + (made.right - made.left) * 91 / 183, abs=0.1)
    assert made.line == " ".join(f"{dot.x:g},{dot.y:g}" for dot in made.dots)
    assert [dot.is_last for dot in made.dots] == [False, False, True]


def test_what_was_taken_in_another_way_is_no_part_of_the_line() -> None:
    made = chart(Point(START, 10), Point(START, 60, is_other=True), Point(END, 30))
    assert len(made.line.split()) == 2
    assert [dot.is_last for dot in made.dots] == [False, False, True]


def test_values_beyond_the_axis_are_drawn_at_its_edge() -> None:
    made = chart(Point(START, -40), Point(END, 140))
    assert made.dots[0].y == made.floor
    assert 0 < made.dots[1].y < HEIGHT


def test_a_span_is_cut_at_the_ends_and_left_out_beyond_them() -> None:
    across = Span(date(2026, 11, 1), date(2027, 2, 1), 80)
    later = Span(date(2027, 1, 1), date(2027, 2, 1), 90, is_limit=True)
    made = chart(Point(START, 1), spans=[across, later])
    assert [bar.until_x for bar in made.bars] == [made.right]
    assert made.bars[0].x < WIDTH


def test_the_axis_grows_with_what_was_found_and_is_never_short() -> None:
    assert chart(Point(date(2027, 1, 1), 5)).last == "01 Jan 2027"
    assert chart(Point(START, 5), ends_on=START).last == "29 Jun 2026"


def test_an_axis_through_zero_shows_it() -> None:
    made = chart(Point(START, 5), low=-30, high=90)
    assert [tick.text for tick in made.ticks] == ["-30", "0", "90"]


def test_one_point_is_a_dot_without_a_line_and_nothing_is_no_chart() -> None:
    assert chart(Point(START, 5)).line == ""
    assert small_chart([], low=0, high=1, starts_on=START, ends_on=END) is None
    assert chart(level=40).level_y is not None


def test_disorder_and_an_empty_axis_are_refused() -> None:
    with pytest.raises(ValueError, match="order of their days"):
        chart(Point(END, 1), Point(START, 1))
    with pytest.raises(ValueError, match="from 5 to 5"):
        chart(low=5, high=5)
