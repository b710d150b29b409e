from datetime import date

from analytics.answers.literature import NO_TARGET
from analytics.figures.section_literature import section
from analytics.figures.sections import About
from tests.analytics.answers.test_literature import ours

ABOUT = About("index procedures", date(2026, 11, 25))


def test_each_endpoint_has_a_figure_and_a_table_that_says_how_theirs_differ() -> None:
    made = section("literature", "What do others report?", [ours({}), ours({})], ABOUT)
    assert made.sentence == NO_TARGET
    assert (len(made.tables), len(made.figures), made.paired) == (2, 2, True)
    (row,) = made.tables[0].rows
    assert row[:3] == ("HP", "Author A 2017;2:7", "3/20")
    assert row[3].startswith("The same rule as ours")
    assert "from memory: drawn, not pooled" in made.figures[0].caption


def test_an_endpoint_without_a_published_count_is_left_out() -> None:
    made = section("literature", "x", [ours({}, definition="union-film")], ABOUT)
    assert (made.tables, made.figures) == ((), ())


def test_contradictions_of_the_sources_are_noted() -> None:
    said = [{"endpoints": ["loss_of_reduction"], "words": "12 of 16 is no 68 %.", "sources": []}]
    made = section("literature", "x", [ours({}, contradictions=said)], ABOUT)
    assert made.notes == (
        (
            "The sources contradict, CC distance more than 3 mm above the first film: "
            "12 of 16 is no 68 %."
        ),
    )


def test_what_all_counts_share_is_said_once_in_the_caption() -> None:
    (table,) = section("literature", "x", [ours({}, {"source": "B"})], ABOUT).tables
    assert "ours by 12 months" in table.caption
    assert not any("last look" in row[3] for row in table.rows)
