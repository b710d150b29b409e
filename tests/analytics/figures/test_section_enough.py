from datetime import date

from analytics.answers.enough import to_rows
from analytics.figures.section_enough import section
from analytics.figures.sections import About
from tests.analytics.figures.test_enough import found

ABOUT = About("index procedures", date(2026, 11, 25))


def test_what_is_supposed_and_the_years_ahead_stand_with_their_numbers() -> None:
    shown = found()
    made = section("enough", "How much more?", shown, "rise (version 1)", ABOUT)
    sides, years = made.tables
    assert sides.rows[0][:3] == ("LP", "3 of 30", "30")
    assert years.rows[0][0] == "0"
    assert years.data == tuple(to_rows(shown))
    assert made.sentence == shown.sentence
    assert "Definition: rise (version 1)" in made.figures[0].caption


def test_where_a_rate_is_not_known_only_that_is_said() -> None:
    made = section("enough", "x", found(None), "rise (version 1)", ABOUT)
    assert (len(made.tables), made.figures) == (1, ())
    assert made.tables[0].rows[0][3] == "not known"
    assert "Nobody of LP is judged yet" in made.sentence
