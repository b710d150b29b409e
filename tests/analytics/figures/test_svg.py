import xml.etree.ElementTree as ElementTree

import pytest

from analytics.figures.svg import (
    Canvas,
    Scale,
    axis_below,
    grid,
    spread,
    ticks_to,
    to_svg,
    width_of,
)
from analytics.figures.template import MARKS
from tests.analytics.figures.sheets import faults


def parsed(written: str) -> ElementTree.Element:
    return ElementTree.fromstring(written)  # noqa: S314 - we have written it ourselves


def test_a_drawing_is_an_svg_with_its_words_as_title_and_every_sign_escaped() -> None:
    canvas = Canvas(height=40)
    canvas.text((4, 20), "5 < 6 & 7", bold=True)
    canvas.line((0, 0), (10.126, 10), "#000000", 0.5, "dash")
    root = parsed(to_svg(canvas.done('Rates of "LP" & <HP>.')))
    title, text, line = list(root)
    assert root.attrib["viewBox"] == "0 0 490 40"
    assert title.text == 'Rates of "LP" & <HP>.'
    assert (text.text, text.attrib["font-weight"]) == ("5 < 6 & 7", "bold")
    assert (line.attrib["x2"], line.attrib["stroke-dasharray"]) == ("10.13", "6 3")


def test_no_drawing_needs_a_style_or_a_script() -> None:
    canvas = Canvas(height=40)
    canvas.rect((0, 0), (5, 5), "#eeeeee", "#000000")
    canvas.area([(0, 0), (5, 5), (0, 5)], "#0072B2")
    written = to_svg(canvas.done("x"))
    assert not {"style", "script", "class"} & {
        name for one in parsed(written).iter() for name in (one.tag, *one.attrib)
    }


@pytest.mark.parametrize("mark", [*MARKS, MARKS[0]], ids=lambda mark: mark.symbol)
def test_every_symbol_of_the_marks_can_be_drawn(mark: object) -> None:
    canvas = Canvas(height=20)
    canvas.symbol((10, 10), mark.symbol, mark.colour)  # type: ignore[attr-defined]
    canvas.path([(0, 0), (5, 5)], mark.colour, 1, mark.dash)  # type: ignore[attr-defined]
    outlines = [shape.attributes["d"] for shape in canvas.shapes]
    assert all(outline.startswith("M") for outline in outlines)


def test_symbols_differ_in_shape_and_not_only_in_colour() -> None:
    def outline(symbol: str) -> str:
        canvas = Canvas(height=20)
        canvas.symbol((10, 10), symbol, "#000000")
        return " ".join(shape.attributes["d"] for shape in canvas.shapes)

    assert len({outline(mark.symbol) for mark in MARKS}) == len(MARKS)


def test_an_open_symbol_is_white_inside() -> None:
    canvas = Canvas(height=20)
    canvas.symbol((10, 10), "diamond-open", "#123456")
    assert canvas.shapes[0].attributes["fill"] == "#ffffff"
    assert canvas.shapes[0].attributes["stroke"] == "#123456"


def test_a_value_beyond_the_axis_stands_at_its_end() -> None:
    scale = Scale(0, 10, 100, 200)
    assert [scale.at(value) for value in (-1, 0, 5, 10, 11)] == [100, 100, 150, 200, 200]


@pytest.mark.parametrize(
    ("high", "ticks"),
    [(57, (0, 20, 40)), (100, (0, 20, 40, 60, 80, 100)), (5.2, (0, 2, 4)), (0, (0,))],
)
def test_ticks_are_round_and_few(high: float, ticks: tuple[float, ...]) -> None:
    assert ticks_to(high) == ticks


def test_an_axis_writes_its_numbers_below_without_one_over_another() -> None:
    canvas = Canvas(height=60)
    scale = Scale(0, 100, 50, 450)
    axis_below(canvas, scale, 30, ticks_to(100), "%")
    grid(canvas, (0, 30), [scale.at(tick) for tick in ticks_to(100)])
    drawing = canvas.done("x")
    assert [shape.text for shape in drawing.shapes if shape.text] == [
        f"{tick}%" for tick in (0, 20, 40, 60, 80, 100)
    ]
    assert faults(drawing) == []


def test_wide_letters_are_wider_than_narrow_ones() -> None:
    assert width_of("MMMM") > width_of("aaaa") > width_of("illi")
    assert width_of("aa", 10) == 2 * width_of("aa", 5)


def test_places_are_moved_apart_in_their_order_and_stay_inside() -> None:
    moved = spread([50, 10, 11, 12], 5, 0, 52)
    assert moved == [50, 10, 15, 20]
    assert spread([100, 99, 98], 10, 0, 100) == [100, 90, 80]
    assert spread([], 10, 0, 100) == []


def test_where_there_is_no_room_the_gaps_are_made_smaller_alike() -> None:
    moved = sorted(spread([5, 5, 5, 5], 10, 0, 15))
    assert moved == pytest.approx([0, 5, 10, 15])
