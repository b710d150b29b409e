from datetime import date

from analytics.answers.outcomes import to_rows
from analytics.figures.methods import METHODS
from analytics.figures.section_outcomes import section
from analytics.figures.sections import About
from tests.analytics.figures.results import result

ABOUT = About("index procedures", date(2026, 11, 25))
GROUPS = {"LP": (12, 6, 3), "HP": (15, 3, 0)}


def test_a_section_has_the_sentence_the_table_the_figures_and_why_some_were_not_judged() -> None:
    answer = result(GROUPS)
    made = section("held", "Did it hold?", answer, ABOUT)
    assert made.sentence == answer.sentence
    rates, reasons = made.tables
    assert rates.rows[0][:3] == ("HP", "18", "18")
    assert rates.rows[-1][0] == "all"
    assert rates.data == tuple(to_rows(answer))
    assert reasons.rows == (("no comparable film at or after the horizon", "3"),)
    assert len(made.figures) == 2


def test_every_caption_names_definition_with_version_cohort_and_cut_off() -> None:
    made = section("held", "Did it hold?", result(GROUPS), ABOUT)
    captions = [one.caption for one in (*made.tables, *made.figures)]
    assert len(captions) == 4
    for caption in captions:
        assert "CC distance more than 3 mm above the first film (version 1)" in caption
        assert "Cohort: index procedures. Data up to 25 Nov 2026." in caption


def test_the_table_as_printed_says_what_cannot_be_said() -> None:
    made = section("held", "Did it hold?", result({"LP": (12, 6, 0), "HP": (0, 0, 3)}), ABOUT)
    row = made.tables[0].rows[0]
    assert row[0] == "HP"
    assert row[7:] == ("nobody evaluable", "0.0 to 100.0", "too few at risk")


def test_every_method_that_it_names_is_described() -> None:
    assert set(section("held", "x", result(GROUPS), ABOUT).methods) <= set(METHODS)


def test_an_empty_cohort_says_so_and_draws_nothing() -> None:
    made = section("held", "Did it hold?", result({}), ABOUT)
    assert made.sentence == "No index procedure is in this cohort."
    assert (made.tables, made.figures) == ((), ())


def test_where_nobody_can_be_judged_no_forest_is_drawn() -> None:
    made = section("held", "Did it hold?", result({"LP": (0, 0, 3)}), ABOUT)
    assert made.figures == ()
