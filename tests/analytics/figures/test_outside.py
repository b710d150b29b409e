from dataclasses import replace
from datetime import date

from analytics.answers.hardware import answer
from analytics.figures.outside import SENTENCE, for_outside
from analytics.figures.section_hardware import section as hardware
from analytics.figures.section_literature import section as literature
from analytics.figures.section_outcomes import section
from analytics.figures.sections import About
from tests.analytics.answers.test_hardware import NO_QUESTIONS, NO_SCORES, REMOVED, service
from tests.analytics.answers.test_literature import ours
from tests.analytics.figures.results import result

ABOUT = About("index procedures", date(2026, 11, 25))
GROUPS = {"LP": (28, 12, 9), "HP": (15, 3, 0)}


def test_small_counts_are_hidden_and_the_others_rounded_and_nothing_is_drawn() -> None:
    whole = section("held", "Did it hold?", result(GROUPS), ABOUT)
    made = for_outside(whole)
    assert made is not None
    assert (made.sentence, made.figures, len(made.tables)) == (SENTENCE, (), 1)
    (table,) = made.tables
    rows = {str(row["group"]): row for row in table.data}
    assert rows["HP"]["events"] == "*"
    assert rows["LP"]["operated"] == 50
    assert "3" not in {cell for row in table.rows for cell in row}
    assert "49" not in {cell for row in table.rows for cell in row}


def test_its_captions_name_no_exact_count() -> None:
    made = for_outside(section("held", "Did it hold?", result(GROUPS), ABOUT))
    assert made is not None
    assert made.tables[0].caption == (
        "Rates by 12 months, by construct type. The rule says: Lost when the coracoclavicular distance "
        "exceeds that of the first film after the operation by more than 3 mm, on a calibrated film of the same view. "
        "Definition: CC distance more than 3 mm above the "
        "first film (version 1). Cohort: index procedures. Data up to 25 Nov 2026."
    )


def test_many_counts_of_few_groups_are_printed_with_a_line_for_each_count() -> None:
    stories = answer(service(), REMOVED, NO_SCORES, NO_QUESTIONS)
    made = for_outside(hardware("hardware", "x", stories, ABOUT))
    assert made is not None
    (table,) = made.tables
    assert table.head == ("Group", "HP", "LP", "all")
    assert table.rows[0] == ("Operated", "*", "*", "*")
    assert len(table.data) == 3
    assert made.notes == ()


def test_a_section_without_a_form_for_outside_stays() -> None:
    assert for_outside(literature("literature", "x", [ours({})], ABOUT)) is None


def test_a_code_is_printed_as_words_that_can_be_broken() -> None:
    whole = section("held", "Did it hold?", result({"peri_implant_fracture": (28, 12, 9)}), ABOUT)
    made = for_outside(replace(whole, key="x"))
    assert made is not None
    assert made.tables[0].rows[0][0] == "peri implant fracture"
    assert made.tables[0].data[0]["group"] == "peri_implant_fracture"
