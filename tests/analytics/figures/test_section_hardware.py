from datetime import date

from analytics.answers.hardware import NUMBERS, answer, to_rows
from analytics.figures.section_hardware import section
from analytics.figures.sections import About
from tests.analytics.answers.test_hardware import NO_QUESTIONS, NO_SCORES, REMOVED, scored, service
from tests.analytics.cohort import data

ABOUT = About("index procedures", date(2026, 11, 25))


def test_every_number_of_the_story_is_a_line_and_every_group_a_column() -> None:
    stories = answer(service(), REMOVED, NO_SCORES, NO_QUESTIONS)
    made = section("hardware", "Whose hardware?", stories, ABOUT)
    (table,) = made.tables
    assert table.head == ("Index procedures", "HP", "LP", "all")
    assert len(table.rows) == len(NUMBERS) + 2
    assert table.rows[0] == ("Operated", "2", "3", "5")
    assert table.rows[1] == ("Hardware irritation recorded", "0", "2", "2")
    assert table.data == tuple(to_rows(stories))
    assert "came out of 4, 3 of them as planned" in made.sentence
    assert "Too few have a score" in made.notes[0]


def test_scores_before_and_after_are_told_where_there_are_enough() -> None:
    pairs = scored(
        *((case, day, total) for case in (1, 2, 5) for day, total in ((40, 40), (300, 10)))
    )
    stories = answer(service(), REMOVED, pairs, NO_QUESTIONS, min_at_risk=2)
    said = section("hardware", "x", stories, ABOUT).notes[0]
    assert "median change -30.0 in" in said


def test_an_empty_cohort_says_so() -> None:
    none = answer(data([]), REMOVED.iloc[:0], NO_SCORES, NO_QUESTIONS)
    made = section("hardware", "x", none, ABOUT)
    assert (made.sentence, made.tables) == ("No index procedure is in this cohort.", ())
