from datetime import date

from analytics.answers.timing import to_rows
from analytics.figures.methods import METHODS
from analytics.figures.section_timing import section
from analytics.figures.sections import About
from tests.analytics.figures.test_intervals import found

ABOUT = About("index procedures", date(2026, 11, 25))


def test_each_group_stands_with_both_shares_and_how_many_are_known() -> None:
    result = found({"LP": (15, 5, 0), "HP": (9, 3, 0)})
    made = section("held-when", "When was it lost?", result, ABOUT)
    (table,) = made.tables
    assert [row[:3] for row in table.rows] == [
        ("HP", "12", "3"),
        ("LP", "20", "5"),
        ("all", "32", "8"),
    ]
    assert table.data == tuple(to_rows(result))
    assert made.sentence.startswith(result.sentence)
    assert "p = " in made.notes[0]
    assert len(made.figures) == 1
    assert set(made.methods) <= set(METHODS)


def test_captions_name_method_definition_cohort_and_cut_off() -> None:
    made = section("held-when", "x", found({"LP": (15, 5, 0)}), ABOUT)
    for one in (*made.tables, *made.figures):
        assert "Turnbull" in one.caption
        assert "CC distance more than 3 mm above the first film (version 1)" in one.caption
        assert "Cohort: index procedures. Data up to 25 Nov 2026." in one.caption


def test_where_nobody_can_be_judged_it_says_so() -> None:
    made = section("held-when", "x", found({}), ABOUT)
    assert (made.sentence, made.tables, made.figures) == ("Nobody can be judged yet.", (), ())
