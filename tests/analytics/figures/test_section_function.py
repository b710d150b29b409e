from datetime import date

from analytics.answers.function import to_rows
from analytics.figures.section_function import section
from analytics.figures.sections import About
from tests.analytics.figures.test_function import FLEXION, LEVELS, found

ABOUT = About("index procedures", date(2026, 11, 25))


def test_each_measure_has_its_numbers_and_its_middle() -> None:
    answers = [found("flexion", FLEXION), found("internal_rotation", LEVELS)]
    made = section("function", "How do they move and feel?", answers, 5, ABOUT)
    first, second = made.tables[0].rows
    assert first[0] == "Flexion: active, in degrees; more is better"
    assert first[1:4] == ("8", "8", "145° (127.5° to 162.5°)")
    assert second[1:4] == ("8", "4", "L3 (lumbosacral junction to L3)")
    assert "50% of those eligible have a value" in made.sentence


def test_values_are_drawn_over_time_and_levels_as_bars() -> None:
    answers = [found("flexion", FLEXION), found("internal_rotation", LEVELS)]
    lines, bars = section("function", "x", answers, 5, ABOUT).figures
    assert "groups of fewer than 5 at a step are not drawn" in lines.caption
    assert bars.caption.startswith("Internal rotation: the highest landmark")


def test_every_row_of_every_measure_is_in_a_file() -> None:
    one = found("flexion", FLEXION)
    (table,) = section("function", "x", [one], 5, ABOUT).beside
    assert (table.name, table.data) == ("function-flexion", tuple(to_rows(one)))


def test_change_is_that_within_people_and_levels_have_no_distance() -> None:
    answers = [found("flexion", FLEXION), found("internal_rotation", LEVELS)]
    flexion, turned = section("function", "x", answers, 5, ABOUT).tables[1].rows
    assert flexion[:2] == ("Flexion", "0")
    assert turned[3] == "levels have no distance"


def test_where_nothing_is_recorded_it_says_so() -> None:
    made = section("function", "x", [], 5, ABOUT)
    assert made.tables == ()
    assert "No motion and no score" in made.sentence
