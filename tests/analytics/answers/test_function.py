from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analytics.answers import function
from analytics.answers.function import FunctionAnswer
from analytics.answers.horizons import HORIZONS
from analytics.answers.measures import MEASURES
from tests.analytics.cohort import CUTOFF, data, on
from tests.analytics.followed import motion, motions, score, scores

END = pd.Timestamp(CUTOFF)
Rows = list[dict[str, Any]]


def answered(
    code: str, cases: Rows, given: "Rows | tuple[()]" = (), horizon: str = "12m"
) -> FunctionAnswer:
    measure, table = MEASURES[code], data(cases).cases
    is_score = measure.kind == "score"
    values = function.measured(
        measure,
        scores(list(given) if is_score else []),
        motions([] if is_score else list(given)),
        table,
    )
    return function.answer(measure, values, table, HORIZONS[horizon], END, "construct_type")


def level(rank: int, **values: Any) -> dict[str, Any]:
    return motion(None, movement="internal_rotation", level_rank=rank, **values)


def test_each_group_has_median_quartiles_and_number_at_each_horizon() -> None:
    cases: Rows = [{"construct_type": "LP"}] * 4 + [{"construct_type": "HP"}]
    given = [score(value, procedure_id=n) for n, value in enumerate([1, 2, 3, 6, 9], 1)]
    found = answered("pain_nrs", cases, [*given, score(5, "6w", procedure_id=1)])
    plate = found.at("12m", "LP")
    assert plate is not None
    assert plate.spread is not None
    assert (plate.number, plate.spread.median, plate.spread.lower, plate.spread.upper) == (
        4,
        2.5,
        1.75,
        3.75,
    )
    early = found.at("6w")
    assert early is not None
    assert (early.eligible, early.number) == (5, 1)


@pytest.mark.parametrize(
    ("case", "reason"),
    [
        ({"patient_status": "withdrawn", "status_on": on(90)}, "withdrawn"),
        ({"patient_status": "moved", "status_on": on(90)}, "moved"),
        ({"last_seen_on": on(370)}, "not_measured"),
        ({"last_seen_on": on(90)}, "not_seen"),
        ({"performed_on": date(2025, 11, 1)}, "window_open"),
    ],
)
def test_what_is_missing_has_its_reason(case: dict[str, Any], reason: str) -> None:
    row = answered("quickdash", [case]).at("12m")
    assert row is not None
    assert (row.eligible, row.number) == (1, 0)
    assert {code for code, number in row.missing.items() if number} == {reason}
    assert row.cases[f"missing:{reason}"] == (1,)
    assert row.spread is None


def test_a_score_that_could_not_be_computed_is_missing_for_that_reason() -> None:
    row = answered("pain_nrs", [{}], [score(None)]).at("12m")
    assert row is not None
    assert row.missing["not_computable"] == 1


def test_numbers_and_missing_add_up_to_the_eligible() -> None:
    cases: Rows = [{}, {}, {"patient_status": "died", "status_on": on(90)}, {"revised_on": on(90)}]
    row = answered("pain_nrs", cases, [score()]).at("12m")
    assert row is not None
    assert (row.number, sum(row.missing.values()), row.ended, row.eligible) == (1, 1, 2, 2)


def test_a_value_after_a_revision_is_of_another_construct() -> None:
    found = answered("pain_nrs", [{"revised_on": on(500)}], [score(), score(day=500, step="12m")])
    row = found.at("12m")
    assert row is not None
    assert row.spread is not None
    assert row.spread.n == 1


def test_the_last_value_that_counts_for_a_horizon_is_taken() -> None:
    row = answered("pain_nrs", [{}], [score(4, day=360), score(1, day=380), score(None, day=390)])
    found = row.at("12m")
    assert found is not None
    assert found.spread is not None
    assert found.spread.median == 1


def test_a_share_reaches_the_acceptable_state_only_where_one_is_published() -> None:
    cases: Rows = [{}] * 3
    pain = answered("pain_nrs", cases, [score(n, procedure_id=n + 1) for n in range(3)]).at("12m")
    assert pain is not None
    assert pain.acceptable is not None
    assert (pain.acceptable.number, pain.acceptable.of) == (2, 3)
    dash = answered("quickdash", cases, [score(10, instrument="quickdash")]).at("12m")
    assert dash is not None
    assert dash.acceptable is None


def test_hardware_is_in_out_or_not_said() -> None:
    given = [
        score(procedure_id=n, hardware_in_place=code)
        for n, code in enumerate(("yes", "no", "unknown"), 1)
    ]
    row = answered("pain_nrs", [{}] * 3, given).at("12m")
    assert row is not None
    assert dict(row.hardware) == {"yes": 1, "no": 1, "unknown": 1}
    exams = [motion(150), motion(160, procedure_id=2)]
    moved = answered("flexion", [{}, {"removed_on": on(200)}], exams).at("12m")
    assert moved is not None
    assert dict(moved.hardware) == {"yes": 1, "no": 1, "unknown": 0}


def test_only_active_motion_of_the_injured_side_counts() -> None:
    exams = [motion(120), motion(160, mode="passive"), motion(170, side="other")]
    row = answered("flexion", [{}], exams).at("12m")
    assert row is not None
    assert row.spread is not None
    assert row.spread.median == 120


def test_levels_are_ordered_and_never_averaged() -> None:
    exams = [level(rank, procedure_id=n) for n, rank in enumerate([1, 1, 4, 5], 1)]
    row = answered("internal_rotation", [{}] * 4, exams).at("12m")
    assert row is not None
    assert row.spread is None
    # The middle of four lies between buttock and T12; a level that was seen is named, none between.
    assert row.quartiles == ("buttock", "buttock", "T12")
    assert row.levels == (0, 2, 0, 0, 1, 1)


def test_change_is_paired_from_the_first_value() -> None:
    given = []
    for number in range(1, 9):
        given += [score(6, "6w", procedure_id=number), score(number - 4, procedure_id=number)]
    given.append(score(3, procedure_id=9))
    (*_, total) = answered("pain_nrs", [{}] * 9, given).changes
    assert (total.group, total.pairs) == ("all", 8)
    assert total.change is not None
    # Changes are -9 to -2; of eight the interval of the sign test is the whole range.
    assert (total.change.median, total.change.low, total.change.high) == (-5.5, -9, -2)
    assert (total.rose, total.same, total.fell) == (0, 0, 8)
    assert total.first_day == 42


def test_one_value_is_no_pair() -> None:
    (*_, total) = answered("pain_nrs", [{}], [score()]).changes
    assert (total.pairs, total.change, total.first_day) == (0, None, None)


def test_levels_change_by_rising_and_falling_only() -> None:
    exams = []
    for number, (first, last) in enumerate([(1, 4), (2, 2), (5, 3)], 1):
        exams += [level(first, step="6w", procedure_id=number), level(last, procedure_id=number)]
    (*_, total) = answered("internal_rotation", [{}] * 3, exams).changes
    assert total.change is None
    assert (total.pairs, total.rose, total.same, total.fell) == (3, 1, 1, 1)


def test_nobody_operated_has_no_row() -> None:
    found = answered("flexion", [])
    assert found.shown == ()
    assert [row.pairs for row in found.changes] == [0]


def test_plain_rows_have_levels_by_name() -> None:
    rows = function.to_rows(answered("internal_rotation", [{}], [level(4)]))
    twelve = next(row for row in rows if (row["group"], row["horizon"]) == ("all", "12m"))
    assert (twelve["median"], twelve["number"]) == ("T12", 1)
    assert rows[-1]["horizon"] == "first to 12m"
    numbers = function.to_rows(answered("flexion", [{}], [motion(140)]))
    assert any(row.get("median") == 140 for row in numbers)
    assert not any(isinstance(row["median"], float) and np.isnan(row["median"]) for row in numbers)
