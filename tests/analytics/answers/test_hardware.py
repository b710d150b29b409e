from typing import Any

import pandas as pd
import pytest

from analytics.answers.hardware import Story, answer, to_rows
from analytics.endpoints.definition import Data
from tests.analytics.cohort import data, film, harm, on

NO_SCORES = pd.DataFrame(columns=["procedure_id", "instrument", "answered_on", "total"])

NO_QUESTIONS = pd.DataFrame(columns=["procedure_id", "kind", "because", "source"])


def out(*rows: tuple[int, int, bool]) -> pd.DataFrame:
    """Return removals: index procedure, day, whether planned."""
    return pd.DataFrame(
        [
            (case, "implant_removal", pd.Timestamp(on(day)), planned, "" if planned else "symptoms")
            for case, day, planned in rows
        ],
        columns=["index_id", "kind", "performed_on", "planned_removal", "reason"],
    )


def scored(*rows: tuple[int, int, float], instrument: str = "quickdash") -> pd.DataFrame:
    made = [(case, instrument, pd.Timestamp(on(day)), total) for case, day, total in rows]
    return pd.DataFrame(made, columns=list(NO_SCORES.columns))


def service() -> Data:
    """Two hooks and three plates; the fifth is a torn joint."""
    cases: list[dict[str, Any]] = [{"construct_type": "HP"}] * 2 + [{"construct_type": "LP"}] * 2
    cases.append({"construct_type": "LP", "injury_kind": "ac_joint"})
    films = [
        film(80, union="none", procedure_id=1),
        film(100, union="united", procedure_id=1),
        film(90, union="partial", procedure_id=2),
        film(300, union="united", procedure_id=2),
    ]
    harms = [
        harm(70, "hardware_irritation", procedure_id=3),
        harm(80, "hardware_irritation", procedure_id=4),
        harm(80, "nerve", procedure_id=5),
    ]
    return data(cases, films, harms)


REMOVED = out((1, 120, True), (2, 130, True), (3, 400, False), (3, 500, False), (5, 60, True))


def stories() -> dict[str, Story]:
    return {one.group: one for one in answer(service(), REMOVED, NO_SCORES, NO_QUESTIONS)}


def test_planned_removals_stand_apart_from_others_and_each_patient_counts_once() -> None:
    told = stories()
    assert list(told) == ["HP", "LP", "all"]
    assert told["all"].cases["planned"] == (1, 2, 5)
    assert told["all"].cases["unplanned"] == told["all"].cases["for_symptoms"] == (3,)
    assert (told["LP"].operated, told["LP"].count("planned")) == (3, 1)


def test_whoever_was_troubled_has_the_hardware_in_or_out() -> None:
    plates = stories()["LP"]
    assert plates.cases["troubled"] == (3, 4)
    assert plates.cases["troubled_out"] == (3,)
    assert plates.cases["troubled_in"] == (4,)


def test_who_asked_and_who_declined_is_told_whether_or_not_it_came_out() -> None:
    questions = pd.DataFrame(
        [
            (1, "raised", "planned_removal", ""),
            (3, "raised", "symptoms", "complication"),
            (3, "told", "symptoms", "patient"),
            (4, "raised", "symptoms", "patient"),
            (4, "declined", "symptoms", ""),
            (4, "asked_again", "symptoms", ""),
            (2, "declined", "planned_removal", ""),
        ],
        columns=list(NO_QUESTIONS.columns),
    )
    told = answer(service(), REMOVED, NO_SCORES, questions)[-1]
    assert told.cases["raised"] == told.cases["asked"] == (3, 4)
    assert told.cases["declined"] == (2, 4)
    assert stories()["all"].count("asked") == 0


def test_union_at_removal_is_that_of_the_last_film_before_it_of_fractures() -> None:
    told = stories()["all"]
    assert told.cases["union_united"] == (1,)
    assert told.cases["union_not united"] == (2,)
    assert told.cases["union_not known"] == (3,)


def test_the_days_to_the_first_removal_are_told() -> None:
    told = stories()
    assert told["HP"].quartiles == (122.5, 125.0, 127.5)
    assert told["LP"].quartiles == (145.0, 230.0, 315.0)


@pytest.mark.parametrize(("instrument", "better"), [("quickdash", 2), ("constant", 1)])
def test_a_score_before_and_after_says_whether_it_got_better(instrument: str, better: int) -> None:
    scores = scored(
        # Before: the last in the year up to removal; after: the first from six weeks on.
        *((1, 20, 60.0), (1, 110, 40.0), (1, 130, 90.0), (1, 170, 20.0), (1, 300, 5.0)),
        *((2, 100, 30.0), (2, 400, 20.0)),
        *((3, 10, 10.0), (3, 390, 10.0), (3, 500, 15.0)),
        # No score after, and one too long before.
        *((5, 30, 10.0),),
        instrument=instrument,
    )
    told = answer(service(), REMOVED, scores, NO_QUESTIONS, min_at_risk=3)[-1]
    assert told.score_change == {instrument: (3, -10.0, better)}
    assert answer(service(), REMOVED, scores, NO_QUESTIONS, min_at_risk=4)[-1].score_change == {}


def test_nobody_removed_and_nobody_operated_are_both_told() -> None:
    well = answer(service(), out(), NO_SCORES, NO_QUESTIONS)[-1]
    assert (well.count("planned"), well.quartiles) == (0, None)
    (nobody,) = answer(data([]), out(), NO_SCORES, NO_QUESTIONS)
    assert nobody.operated == 0


def test_rows_for_a_file_have_the_same_numbers() -> None:
    last = to_rows(answer(service(), REMOVED, NO_SCORES, NO_QUESTIONS))[-1]
    assert (last["group"], last["planned"], last["unplanned"], last["troubled"]) == ("all", 3, 1, 2)
    assert last["union_not_united"] == 1
    assert last["day_median"] == 125.0


def test_a_column_that_the_cases_lack_is_refused() -> None:
    with pytest.raises(ValueError, match="cases have no column 'shoe_size'"):
        answer(service(), REMOVED, NO_SCORES, NO_QUESTIONS, by="shoe_size")
