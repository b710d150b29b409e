from dataclasses import replace
from datetime import date

from analytics.answers.completeness import Share
from analytics.answers.function import StepRow
from analytics.answers.horizons import HORIZONS
from analytics.answers.measures import MEASURES
from analytics.figures.section_function import section
from analytics.figures.sections import About

ABOUT = About("index procedures", date(2026, 11, 25))
ROW = StepRow(
    group="all",
    horizon=HORIZONS["12m"],
    eligible=40,
    number=30,
    ended=1,
    missing={},
    spread=None,
    quartiles=("T12", "L1", "L3"),
    levels=(),
    acceptable=None,
    hardware={},
    cases={},
)


def test_each_measure_has_its_numbers_and_its_middle() -> None:
    pain = replace(ROW, number=20, acceptable=Share(12, 20))
    rows = [(MEASURES["internal_rotation"], ROW), (MEASURES["pain_nrs"], pain)]
    made = section("function", "How do they move and feel?", rows, "12 months", ABOUT)
    name, *cells = made.tables[0].rows[0]
    assert name.startswith("Internal rotation: the highest landmark")
    assert cells == ["40", "30", "L1 (T12 to L3)", ""]
    assert made.tables[0].rows[1][4] == "12/20"
    assert "50% of those eligible have a value" in made.sentence


def test_where_nothing_is_recorded_it_says_so() -> None:
    made = section("function", "x", [], "12 months", ABOUT)
    assert made.tables == ()
    assert "No motion and no score" in made.sentence
