from datetime import date

from analytics.figures.section_charts import Watched, section
from tests.analytics.figures.test_charts import OUTCOMES, facts, read

CUTOFF = date(2026, 11, 25)


def watched(outcomes: tuple[bool, ...] = OUTCOMES) -> Watched:
    return Watched(
        name="Loss of reduction, North Hospital",
        facts=facts(outcomes),
        reading=read(outcomes),
        definition="CC distance more than 3 mm above the first film (version 1)",
        basis="one rate of 10.0%",
        expected=[0.1] * len(outcomes),
        rows=[{"case": place} for place in range(len(outcomes))],
    )


def test_each_chart_says_what_it_watches_what_its_limit_costs_and_where_it_was_reached() -> None:
    made = section("charts", "What do they say?", [watched()], [], CUTOFF)
    assert made.sentence.startswith(
        "1 of 1 charts have reached their limit: Loss of reduction, North"
    )
    assert made.tables[0].rows[0][1:4] == ("7", "4", "0.7")
    assert made.tables[0].rows[0][-1] == "case 5"
    caption = made.figures[0].caption
    assert "once in 151 cases on average" in caption
    assert "expected: one rate of 10.0%" in caption
    assert "Data up to 25 Nov 2026." in caption
    assert [table.name for table in made.beside] == ["charts-1"]


def test_a_chart_without_a_case_is_named_and_not_drawn() -> None:
    made = section("charts", "x", [watched(())], [], CUTOFF)
    assert made.figures == ()
    assert made.notes == (
        "No case has settled since these began: Loss of reduction, North Hospital.",
    )


def test_where_no_policy_has_charts_on_it_says_so() -> None:
    made = section("charts", "x", [], ["North Hospital"], CUTOFF)
    assert made.sentence == "No running chart is fixed at these sites."
    assert "off at North Hospital" in made.notes[0]
