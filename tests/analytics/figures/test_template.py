import pytest

from analytics.figures.template import INK, KNOWN_ORDER, MARKS, PAPER, layout, mark_for, pale


def luminance(colour: str) -> float:
    def channel(part: str) -> float:
        value = int(part, 16) / 255
        return value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4

    red, green, blue = (channel(colour[at : at + 2]) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    high, low = sorted((luminance(one), luminance(two)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_marks_differ_by_more_than_colour() -> None:
    assert len({mark.symbol for mark in MARKS}) == len(MARKS)
    assert len({(mark.dash, mark.symbol) for mark in MARKS}) == len(MARKS)


@pytest.mark.parametrize("mark", MARKS, ids=lambda mark: str(mark.symbol))
def test_marks_stand_out_from_the_paper(mark: object) -> None:
    assert contrast(mark.colour, PAPER) >= 3  # type: ignore[attr-defined]
    assert contrast(INK, PAPER) > 15


def test_a_construct_type_keeps_its_mark_whatever_else_is_shown() -> None:
    for group in KNOWN_ORDER:
        assert mark_for(group, [group]) == mark_for(group, list(KNOWN_ORDER))
    assert len({mark_for(group, []).colour for group in KNOWN_ORDER}) == len(KNOWN_ORDER)


def test_other_groups_take_marks_in_order_of_name() -> None:
    groups = ["south", "north", "LP"]
    assert mark_for("north", groups) == MARKS[0]
    assert mark_for("south", groups) == MARKS[1]


def test_a_long_title_and_note_are_broken_into_lines_and_given_room() -> None:
    short, long = layout("Short"), layout("A title of many words " * 4, note="A note " * 20)
    assert "<br>" not in short["title"]["text"]
    assert max(map(len, long["title"]["text"].split("<br>"))) <= 38
    assert max(map(len, long["title"]["subtitle"]["text"].split("<br>"))) <= 52
    assert long["margin"]["t"] > short["margin"]["t"]


def test_a_figures_own_settings_are_laid_over_the_shared_ones() -> None:
    made = layout("Title", margin={"l": 99}, xaxis={"ticksuffix": "%"}, height=300)
    assert made["margin"]["l"] == 99
    assert made["margin"]["b"] == layout("Title")["margin"]["b"]
    assert made["xaxis"]["ticksuffix"] == "%"
    assert "ticksuffix" not in made["yaxis"]
    assert made["height"] == 300


def test_a_pale_colour_is_the_colour_let_through() -> None:
    assert pale("#0072B2") == "rgba(0,114,178,0.14)"
