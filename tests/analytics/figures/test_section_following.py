from datetime import date

from analytics.answers.completeness import GroupRow, PersonTime, Share
from analytics.answers.responding import Response
from analytics.figures.section_following import Followed, section
from analytics.figures.sections import About, Section
from tests.analytics.figures.test_attendance import some
from tests.analytics.figures.test_svg_flow import found

ABOUT = About("index procedures", date(2026, 11, 25))


def row(group: str, lost: int, failures: int, quotient: float | None) -> GroupRow:
    reviewed = {"6w": Share(18, 21), "12m": Share(0, 0)}
    return GroupRow(group, 21, reviewed, PersonTime(15.0, 20.0, 0.75), lost, failures, quotient)


def made(*rows: GroupRow) -> Section:
    answered = Response("12m", "12 months", Share(3, 4), (1, 2, 3), (4,))
    lines = {"step": some(), "site": some(), "month": some()}
    followed = Followed({"all": found()}, rows, lines, (answered,))
    return section("following", "How well do we follow?", followed, "rise (version 1)", ABOUT)


def test_completeness_stands_three_ways_and_an_unknown_quotient_says_so() -> None:
    rows = [row("LP", 3, 0, None), row("all", 12, 6, 2.0)]
    table = made(*rows).tables[0]
    assert table.head[2:4] == ("6w", "12m")
    assert table.rows == (
        ("LP", "21", "18/21", "", "75.0", "3", "0", "none failed"),
        ("all", "21", "18/21", "", "75.0", "12", "6", "2.0"),
    )


def test_where_more_are_lost_than_failed_it_is_said() -> None:
    said = made(row("all", 12, 6, 2.0)).sentence
    assert "12 are lost to follow-up and 6 are known to have failed. More are lost" in said
    assert "More are lost" not in made(row("all", 2, 6, 0.3)).sentence


def test_the_flow_is_drawn_with_the_definition_in_its_caption() -> None:
    flow, bars = made(row("all", 2, 6, 0.3)).figures
    assert "Definition: rise (version 1)" in flow.caption
    assert "How planned reviews ended, by step." in bars.caption


def test_reviews_and_responses_are_counted_by_step_and_site_and_the_months_are_in_the_file() -> (
    None
):
    section_ = made(row("all", 2, 6, 0.3))
    _, responses, steps, sites = section_.tables
    assert responses.rows == (("12 months", "4", "3", "75.0% (30.1% to 95.4%)"),)
    assert steps.head[:4] == ("Step", "Planned", "Done in window", "Done outside it")
    assert steps.rows[0][:3] == ("6w", "4", "3")
    assert sites.head[0] == "Site"
    assert [table.name for table in section_.beside] == ["following-flow", "following-reviews"]
    assert {line["by"] for line in section_.beside[1].data} == {"step", "site", "month"}


def test_an_empty_cohort_says_so() -> None:
    nobody = GroupRow("all", 0, {}, PersonTime(0, 0, None), 0, 0, None)
    empty = made(nobody)
    assert (empty.sentence, empty.tables) == ("No index procedure is in this cohort.", ())
