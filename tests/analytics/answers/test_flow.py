from datetime import date
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.answers import flow, outcomes
from analytics.answers.flow import Flow
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data
from tests.analytics.cohort import data, film, harm, on

YEAR = HORIZONS["12m"]
RISE = DEFINITIONS["rise-3mm"]


def placed(cohort: Data, definition: Any = RISE, horizon: Any = YEAR) -> pd.DataFrame:
    applied = apply(definition, cohort)
    return flow.places(applied, cohort.cases, horizon, pd.Timestamp(cohort.cutoff))


def flowing(cohort: Data) -> Flow:
    return flow.flow(placed(cohort), YEAR)


def left(found: Flow) -> dict[str, int]:
    return {part.code: part.number for stage in found.stages for part in stage.left}


def test_those_operated_end_as_analysed_or_left_for_a_reason() -> None:
    cohort = data(
        [
            {"last_seen_on": on(400)},
            {},
            {"last_seen_on": on(380)},
            {"last_seen_on": on(60)},
            {"performed_on": date(2026, 6, 1)},
        ],
        [
            film(2, 9.0),
            film(370, 9.1),
            film(2, 9.0, procedure_id=2),
            film(90, 14.0, procedure_id=2),
            film(2, 9.0, procedure_id=3),
            film(2, 9.0, procedure_id=4),
        ],
    )
    found = flowing(cohort)
    assert found.numbers == {"operated": 5, "eligible": 4, "seen": 3, "judged": 3, "analysed": 2}
    assert left(found) == {
        "operated:too_recent": 1,
        "eligible:not_seen": 1,
        "judged:no_film": 1,
    }
    assert {part.code: part.cases for part in found.ends} == {"end:event": (2,), "end:held": (1,)}


@pytest.mark.parametrize(
    ("case", "reason"),
    [
        ({"patient_status": "withdrawn", "status_on": on(100)}, "withdrawn"),
        ({"patient_status": "moved", "status_on": on(100)}, "moved"),
        ({"patient_status": "died", "status_on": on(100)}, "died"),
        ({"revised_on": on(100)}, "revised"),
        ({"patient_status": "moved", "status_on": on(500)}, "not_seen"),
        ({"performed_on": date(2025, 11, 1)}, "window_open"),
        ({"last_seen_on": on(100)}, "not_seen"),
    ],
)
def test_who_was_not_seen_has_one_reason(case: dict[str, Any], reason: str) -> None:
    assert left(flowing(data([case]))) == {f"eligible:{reason}": 1}


def test_who_was_seen_and_cannot_be_judged_leaves_there() -> None:
    found = flowing(data([{"last_seen_on": on(370)}], [film(370, 9.0)]))
    assert left(found) == {"seen:no_baseline": 1}
    ratio = placed(
        data([{"last_seen_on": on(370), "other_shoulder": "operated_before"}], [film(2, 9.0)]),
        DEFINITIONS["ratio-25"],
    )
    assert ratio[["stage", "reason"]].iloc[0].tolist() == ["seen", "other_shoulder"]


def test_what_came_first_is_an_end_of_its_own() -> None:
    cohort = data(
        [{"revised_on": on(100)}, {"patient_status": "died", "status_on": on(100)}],
        [film(2, 9.0), film(2, 9.0, procedure_id=2)],
    )
    assert {part.code for part in flowing(cohort).ends} == {"end:revision", "end:death"}


def test_the_lost_are_those_who_could_have_come() -> None:
    cohort = data(
        [
            {"last_seen_on": on(60)},
            {"patient_status": "moved", "status_on": on(100)},
            {"patient_status": "died", "status_on": on(100)},
            {"last_seen_on": on(370)},
            {"last_seen_on": on(370)},
            {"performed_on": date(2026, 6, 1)},
        ],
        [film(2, 9.0, procedure_id=4)],
    )
    # The fourth came and was not filmed; the fifth has no first film and can never be judged.
    assert flow.lost(placed(cohort)).tolist() == [True, True, False, True, False, False]


def test_finding_an_event_makes_nobody_a_comer() -> None:
    cohort = data(
        [{"last_seen_on": on(90)}, {"last_seen_on": on(400)}, {"revised_on": on(90)}],
        [film(2, 9.0), film(90, 14.0)],
    )
    rows = placed(cohort)
    assert rows["stage"].iloc[0] == "analysed"
    assert flow.followed(rows).tolist() == [False, True, False]
    assert flow.stayed_away(rows).tolist() == [True, False, False]


CASES = st.fixed_dictionaries(
    {
        "performed_on": st.sampled_from([on(0), date(2025, 11, 1), date(2026, 8, 1)]),
        "patient_status": st.sampled_from(["active", "died", "withdrawn", "moved"]),
        "status_on": st.sampled_from([None, on(100), on(500)]),
        "revised_on": st.sampled_from([None, None, on(100), on(600)]),
        "last_seen_on": st.sampled_from([None, on(30), on(320), on(900)]),
        "other_shoulder": st.sampled_from(["uninjured", "injured_before"]),
        "injury_kind": st.sampled_from(["lateral_clavicle", "ac_joint"]),
        "construct_type": st.sampled_from(["LP", "HP", None]),
    }
)
FILMS = st.lists(
    st.tuples(
        st.integers(1, 12),
        st.sampled_from([2, 60, 330, 400, 800]),
        st.sampled_from([8.0, 9.0, 14.0, None]),
        st.sampled_from(["none", "united"]),
    ),
    max_size=30,
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(CASES, min_size=1, max_size=12),
    FILMS,
    st.sampled_from([one for one in DEFINITIONS.values() if one.rule != "complication"][:9]),
    st.sampled_from(list(HORIZONS.values())),
)
def test_the_numbers_add_up_in_every_cohort(
    cases: list[dict[str, Any]], films: list[Any], definition: Any, horizon: Any
) -> None:
    for case in cases:
        if case["patient_status"] == "active":
            case["status_on"] = None
    readings = [
        film(day, value, value and 8.0, procedure_id=number, union=union)
        for number, day, value, union in films
        if number <= len(cases)
    ]
    cohort = data(cases, readings)
    found = flow.flow(placed(cohort, definition, horizon), horizon)
    for stage, following in zip(found.stages, found.stages[1:], strict=False):
        parts = [following.part.cases, *(part.cases for part in stage.left)]
        # Nobody is missing and nobody is counted twice.
        assert sorted(key for part in parts for key in part) == sorted(stage.part.cases)
    last = found.stages[-1].part
    assert sorted(key for part in found.ends for key in part.cases) == sorted(last.cases)
    # The diagram ends with the denominator of the rates.
    total = outcomes.answer(cohort, definition, horizon).total
    assert set(last.cases) == set(total.cases["evaluable"])
    assert found.numbers["eligible"] == total.eligible
    rows = flow.to_rows({"all": found})
    stages = [row["cases"] for row in rows if not row["left_because"]]
    assert stages == list(found.numbers.values())


def test_a_harm_has_a_flow_too() -> None:
    cohort = data([{"last_seen_on": on(400)}, {}], harms=[harm(30)])
    found = flow.flow(placed(cohort, DEFINITIONS["any-complication"]), YEAR)
    assert found.numbers["analysed"] == 1


def test_a_reason_without_words_is_no_silent_loss() -> None:
    rows = placed(data([{}]))
    rows["reason"] = "lost in the post"
    with pytest.raises(ValueError, match="no words for lost in the post"):
        flow.flow(rows, YEAR)


def test_nobody_operated_is_a_flow_of_noughts() -> None:
    found = flowing(data([]))
    assert set(found.numbers.values()) == {0}
    assert found.ends == ()
