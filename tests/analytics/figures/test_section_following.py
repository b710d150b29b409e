from datetime import date

from analytics.answers.completeness import GroupRow, PersonTime, Share
from analytics.figures.section_following import section
from analytics.figures.sections import About
from tests.analytics.figures.test_svg_flow import found

ABOUT = About("index procedures", date(2026, 11, 25))


def row(group: str, lost: int, failures: int, quotient: float | None) -> GroupRow:
    reviewed = {"6w": Share(18, 21), "12m": Share(0, 0)}
    return GroupRow(group, 21, reviewed, PersonTime(15.0, 20.0, 0.75), lost, failures, quotient)


def test_completeness_stands_three_ways_and_an_unknown_quotient_says_so() -> None:
    rows = [row("LP", 3, 0, None), row("all", 12, 6, 2.0)]
    made = section("following", "How well do we follow?", found(), rows, "rise (version 1)", ABOUT)
    (table,) = made.tables
    assert table.head[2:4] == ("6w", "12m")
    assert table.rows == (
        ("LP", "21", "18/21", "", "75.0", "3", "0", "none failed"),
        ("all", "21", "18/21", "", "75.0", "12", "6", "2.0"),
    )


def test_where_more_are_lost_than_failed_it_is_said() -> None:
    made = section("following", "x", found(), [row("all", 12, 6, 2.0)], "rise (version 1)", ABOUT)
    assert "12 are lost to follow-up and 6 are known to have failed. More are lost" in made.sentence
    made = section("following", "x", found(), [row("all", 2, 6, 0.3)], "rise (version 1)", ABOUT)
    assert "More are lost" not in made.sentence


def test_the_flow_is_drawn_with_the_definition_in_its_caption() -> None:
    made = section("following", "x", found(), [row("all", 2, 6, 0.3)], "rise (version 1)", ABOUT)
    assert "Definition: rise (version 1)" in made.figures[0].caption


def test_an_empty_cohort_says_so() -> None:
    nobody = GroupRow("all", 0, {}, PersonTime(0, 0, None), 0, 0, None)
    made = section("following", "x", found(), [nobody], "rise (version 1)", ABOUT)
    assert (made.sentence, made.tables) == ("No index procedure is in this cohort.", ())
