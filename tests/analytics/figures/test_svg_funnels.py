import pytest

from analytics.answers.funnels import sentence
from analytics.figures.svg_funnels import funnel_drawing
from tests.analytics.figures.sheets import faults, words_of
from tests.analytics.figures.test_funnels import made

NEIGHBOURS = {"Ann Archer": (4, 40), "Bob Butler": (4, 41), "Cleo Carver": (4, 42), "Dan": (20, 90)}


def test_names_of_neighbours_do_not_cover_one_another() -> None:
    sheet = funnel_drawing(made(NEIGHBOURS))
    assert faults(sheet) == []
    assert set(NEIGHBOURS) <= set(words_of(sheet))
    assert {"95%", "99.8%"} <= set(words_of(sheet))
    assert sheet.words == sentence(made(NEIGHBOURS))


def test_a_small_unit_is_hollow_and_one_beyond_is_a_square() -> None:
    sheet = funnel_drawing(made({"small": (3, 5), "large": (4, 90), "far": (30, 60)}))
    marks = [one for one in sheet.shapes if one.tag == "path" and one.attributes["fill"] != "none"]
    assert sum(one.attributes["fill"] == "#ffffff" for one in marks) == 1
    # Four corners against the sixteen of a circle.
    assert sum(one.attributes["d"].count("L") == 3 for one in marks) == 2


def test_what_was_refused_is_not_drawn() -> None:
    with pytest.raises(ValueError, match="A funnel sets several sites beside"):
        funnel_drawing(made({"alone": (3, 40)}))
