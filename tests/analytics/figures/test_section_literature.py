from datetime import date

from analytics.answers.literature import NO_TARGET
from analytics.figures.section_literature import section
from analytics.figures.sections import About
from tests.analytics.answers.test_literature import ours

ABOUT = About("index procedures", date(2026, 11, 25))


def test_each_endpoint_has_a_figure_and_a_file_and_all_share_one_table() -> None:
    made = section("literature", "What do others report?", [ours({}), ours({})], ABOUT)
    assert made.sentence == NO_TARGET
    assert (len(made.tables), len(made.figures), len(made.beside)) == (1, 2, 2)
    row, second = made.tables[0].rows
    assert row[:5] == (*("Loss of reduction", "HP", "1", "1 of 1", "too few to pool"),)
    assert row[6].startswith("1/3: ")
    assert second[1] == "HP"
    details = [line["differences"] for line in made.beside[0].data]
    assert any(str(words).startswith("The same rule as ours") for words in details)
    assert "from memory: drawn, not pooled" in made.figures[0].caption


def test_an_endpoint_without_a_published_count_is_left_out() -> None:
    made = section("literature", "x", [ours({}, definition="union-film")], ABOUT)
    assert (made.tables, made.figures) == ((), ())


def test_contradictions_of_the_sources_are_noted() -> None:
    said = [{"endpoints": ["loss_of_reduction"], "words": "12 of 16 is no 68 %.", "sources": []}]
    made = section("literature", "x", [ours({}, contradictions=said)], ABOUT)
    assert (
        "The sources contradict, CC distance more than 3 mm above the first film: 12 of 16 is no 68 %."
    ) in made.notes
    assert made.notes[-1] == "Sources: Author A 2017;2:7."


def test_pooled_series_stand_with_where_one_more_unit_would_lie() -> None:
    rows = ({}, {"source": "B", "events": 5}, {"source": "B", "events": 2, "total": 30})
    (table,) = section("literature", "x", [ours(*rows)], ABOUT).tables
    (row,) = table.rows
    assert row[2] == "3: 10/70"
    assert row[4].startswith("14.")
    assert " to " in row[5]
    assert "ours by 12 months" in table.caption
