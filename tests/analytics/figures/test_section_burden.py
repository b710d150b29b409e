from datetime import date

from analytics.answers.burden import answer, to_rows
from analytics.figures.section_burden import section
from analytics.figures.sections import About
from tests.analytics.answers.test_burden import service
from tests.analytics.cohort import data

ABOUT = About("index procedures", date(2026, 11, 25))


def test_events_stand_over_procedures_and_over_person_time_with_grade_and_time() -> None:
    made = section("burden", "How much went wrong?", answer(service()), ABOUT)
    kinds, groups = made.tables
    whole = kinds.rows[0]
    assert whole[:2] == ("Any complication", "3")
    assert whole[3] == "5"
    assert whole[4].startswith("83.3 (")
    assert whole[5].startswith("41.7 (")
    assert whole[6] == "I: 1; II: 1; III: 2; unknown: 1"
    assert [row[0] for row in groups.rows] == ["HP", "LP"]
    assert made.beside[0].data == tuple(to_rows(answer(service())))
    # Outside the team only what adds up over the groups: any kind by group, each kind of all.
    assert {(row["kind"], row["group"]) for row in kinds.data if row["group"] != "all"} == {
        ("any", "HP"),
        ("any", "LP"),
    }
    assert made.sentence.startswith("5 events in 3 of 6 operated, over 12 person-years")


def test_an_empty_cohort_says_so() -> None:
    made = section("burden", "x", answer(data([])), ABOUT)
    assert (made.sentence, made.tables) == ("No index procedure is in this cohort.", ())
