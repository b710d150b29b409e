from dataclasses import replace
from datetime import date

from analytics.answers.balance import to_rows
from analytics.figures.balance import dot_words
from analytics.figures.section_balance import section
from analytics.figures.sections import About
from tests.analytics.figures.test_balance import FOUND

ABOUT = About("index procedures", date(2026, 11, 25))
SILENT = replace(FOUND, one="answered", two="did not answer")


def test_each_pair_is_a_figure_with_its_words_and_a_file() -> None:
    made = section("balance", "x", {"lost": FOUND, "silent": SILENT}, "rise (version 1)", ABOUT)
    assert made.sentence == dot_words(FOUND)
    assert dot_words(SILENT) in made.notes
    assert [table.name for table in made.beside] == ["balance-lost", "balance-silent"]
    assert made.beside[0].data == tuple(to_rows(FOUND))
    for figure in made.figures:
        assert "Definition: rise (version 1). Cohort: index procedures." in figure.caption


def test_where_there_are_not_two_groups_nothing_is_drawn_and_it_is_said() -> None:
    nobody = replace(FOUND, numbers=(30, 0), traits=())
    made = section("balance", "x", {"lost": nobody}, "rise (version 1)", ABOUT)
    assert (made.figures, made.tables, made.beside, made.methods) == ((), (), (), ())
    assert "there are not two groups to compare" in made.sentence
