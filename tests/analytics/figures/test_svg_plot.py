from analytics.figures.svg import Canvas
from analytics.figures.svg_plot import Axis, Part, plot, stairs, ticks_between
from tests.analytics.figures.sheets import faults, words_of


def test_the_axes_have_their_numbers_and_words_and_nothing_is_cut() -> None:
    canvas = Canvas(height=120.0)
    across = Axis(0, 12, "months", ticks=(0.0, 6.0, 12.0))
    here = plot(canvas, Part((0, 0), 240.0, 120.0), across, Axis(-10, 40, unit="%"), "LP  3 of 9")
    sheet = canvas.done("x")
    assert faults(sheet) == []
    assert {"0", "6", "12", "months", "LP  3 of 9", "0%", "40%"} <= set(words_of(sheet))
    low, high = here.at(0, -10), here.at(12, 40)
    assert low[0] < high[0]
    assert low[1] > high[1]


def test_ticks_are_round_and_hold_nought() -> None:
    assert ticks_between(-23, 41, 5) == (-20, 0, 20, 40)
    assert ticks_between(0, 9) == (0, 2, 4, 6, 8)
    assert 0 in ticks_between(-0.4, 0.3)


def test_names_stand_for_numbers_where_they_are_given() -> None:
    axis = Axis(-0.5, 1.5, ticks=(0.0, 1.0), names=("6 weeks", "a year"))
    assert [axis.name_of(place) for place in range(2)] == ["6 weeks", "a year"]


def test_a_line_of_stairs_keeps_its_height_until_the_next_point() -> None:
    assert stairs([(0, 0), (3, 5), (7, 9)]) == [(0, 0), (3, 0), (3, 5), (7, 5), (7, 9)]
