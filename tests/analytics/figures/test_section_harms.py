from datetime import date

import pandas as pd

from analytics.answers import harms
from analytics.answers.horizons import HORIZONS
from analytics.figures.section_harms import section
from analytics.figures.sections import About
from tests.analytics.cohort import data, harm, on

ABOUT = About("index procedures", date(2026, 11, 25))
SEEN = {"last_seen_on": on(400)}


def answered(cases: int = 6) -> harms.HarmsAnswer:
    frames = data([SEEN] * cases, harms=[harm(30), harm(60, "stiffness", procedure_id=2)][:cases])
    later = pd.DataFrame(
        {
            "procedure_id": [90, 91],
            "index_id": [1, 2],
            "kind": ["implant_removal", "revision_fixation"],
            "planned_removal": [True, False],
        }
    )
    return harms.answer(frames, later.iloc[: cases and 2], HORIZONS["12m"])


def test_complications_are_counted_by_group_and_kind_and_operations_apart() -> None:
    made = section("harms", "What went wrong?", answered(), ABOUT)
    rates, kinds, later = made.tables
    assert rates.rows[-1][:5] == ("all", "6", "6", "6", "2")
    assert {row[0]: row[3] for row in kinds.rows if row[3] != "0"} == {
        "Nerve injury or numbness": "1",
        "Stiffness": "1",
    }
    assert later.head[:4] == ("Group", "Operated", "Planned removal", "Unplanned removal")
    cells = [cell.partition(":")[0] for cell in later.rows[-1]]
    assert cells[:5] == ["all", "6", "1", "0", "1"]
    assert later.rows[-1][2] == "1: 16.7 (3.0 to 56.4)"


def test_the_sentence_that_a_planned_removal_is_no_complication_is_there() -> None:
    made = section("harms", "What went wrong?", answered(), ABOUT)
    assert made.notes == ("A planned removal is not a complication and is counted apart.",)


def test_every_table_has_a_file_of_its_own() -> None:
    names = [table.name for table in section("harms", "x", answered(), ABOUT).tables]
    assert names == ["harms-any", "harms-kinds", "harms-reoperations"]
    (by_group,) = section("harms", "x", answered(), ABOUT).beside
    assert by_group.name == "harms-kinds-by-group"


def test_an_empty_cohort_says_so() -> None:
    made = section("harms", "x", answered(0), ABOUT)
    assert (made.sentence, made.tables) == ("No index procedure is in this cohort.", ())
