import pandas as pd
import pytest

from analytics.answers.harms import (
    ANY_UNPLANNED,
    OTHER,
    PLANNED,
    REVISION,
    UNPLANNED,
    WASHOUT,
    HarmsAnswer,
    answer,
    reoperation_rows,
    to_rows,
)
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.definition import Data
from analytics.estimators.proportions import wilson
from tests.analytics.cohort import data, harm, on

YEAR = HORIZONS["12m"]
COLUMNS = ["procedure_id", "index_id", "kind", "performed_on", "planned_removal"]


def later(*rows: tuple[int, str, bool]) -> pd.DataFrame:
    """Return operations after the index procedures: index, kind, whether a planned removal."""
    return pd.DataFrame(
        [(100 + number, *row[:2], on(120), row[2]) for number, row in enumerate(rows)],
        columns=COLUMNS,
    )


def service() -> Data:
    cases = [
        {"construct_type": code, "last_seen_on": on(400)}
        for code, number in (("HP", 6), ("LP", 4))
        for _ in range(number)
    ]
    harms = [
        harm(60, "subacromial_osteolysis", procedure_id=1),
        harm(80, "subacromial_osteolysis", procedure_id=1),
        harm(90, "subacromial_osteolysis", procedure_id=2),
        harm(95, "nerve", procedure_id=2),
        harm(30, "infection_deep", procedure_id=7),
    ]
    return data(cases, harms=harms)


def found() -> HarmsAnswer:
    return answer(service(), later(), YEAR)


def test_a_patient_with_several_complications_counts_once_for_any() -> None:
    total = found().any_kind.total
    assert (total.events, total.evaluable) == (3, 10)
    assert total.cases["events"] == (1, 2, 7)


def test_kinds_come_commonest_first_and_those_nobody_had_are_left_out() -> None:
    assert [(one.kind, one.row.events) for one in found().kinds] == [
        ("subacromial_osteolysis", 2),
        ("infection_deep", 1),
        ("nerve", 1),
        ("infection_deep_90d", 1),
    ]


def test_a_kind_is_shown_by_group_where_it_happened() -> None:
    assert [(one.name, one.row.group, one.row.events) for one in found().by_group] == [
        ("Deep infection", "LP", 1),
        ("Subacromial osteolysis", "HP", 2),
        ("Nerve injury or numbness", "HP", 1),
        ("Deep infection within 90 days", "LP", 1),
    ]


def test_planned_removals_stand_apart_from_what_was_not_planned() -> None:
    rows = later(
        (1, "implant_removal", True),
        (2, "implant_removal", True),
        (3, "implant_removal", False),
        (7, "revision_fixation", False),
        (7, "revision_fixation", False),
        (8, "washout", False),
        (9, "other", False),
    )
    hook, plate, every = answer(service(), rows, YEAR).reoperations
    assert (every.group, every.operated) == ("all", hook.operated + plate.operated)
    assert every.counts[PLANNED] == hook.counts[PLANNED] + plate.counts[PLANNED]
    assert (hook.group, hook.operated) == ("HP", 6)
    assert hook.counts == {
        PLANNED: 2,
        UNPLANNED: 1,
        REVISION: 0,
        WASHOUT: 0,
        OTHER: 0,
        ANY_UNPLANNED: 1,
    }
    assert plate.counts == {
        PLANNED: 0,
        UNPLANNED: 0,
        REVISION: 1,
        WASHOUT: 1,
        OTHER: 1,
        ANY_UNPLANNED: 3,
    }
    assert plate.cases[ANY_UNPLANNED] == (7, 8, 9)
    assert hook.share[PLANNED] == wilson(2, 6)
    written = reoperation_rows(answer(service(), rows, YEAR))
    assert [(row["group"], row["operation"], row["had_at_least_one"]) for row in written[:2]] == [
        ("HP", PLANNED, 2),
        ("HP", UNPLANNED, 1),
    ]


def test_whoever_lacks_the_group_is_counted_under_not_recorded_here_too() -> None:
    given = data([{"neer": "IIB"}, {"neer": None}])
    found = answer(given, later((2, "washout", False)), YEAR, by="neer")
    known, lacking, _ = found.reoperations
    assert (known.group, lacking.group, lacking.operated) == ("IIB", "not recorded", 1)
    assert lacking.counts["washout"] == 1
    assert [row.group for row in found.any_kind.rows] == ["IIB", "not recorded"]


def test_a_planned_removal_is_no_complication() -> None:
    total = answer(service(), later((5, "implant_removal", True)), YEAR).any_kind.total
    assert 5 not in total.cases["events"]


def test_rows_for_a_file_name_each_kind() -> None:
    rows = to_rows(found())
    assert [(row["kind"], row["group"], row["events"]) for row in rows[:4]] == [
        ("any", "HP", 2),
        ("any", "LP", 1),
        ("any", "all", 3),
        ("subacromial_osteolysis", "all", 2),
    ]


def test_nobody_operated_and_nothing_wrong_are_both_answers() -> None:
    empty = answer(data([]), later(), YEAR)
    assert empty.kinds == empty.by_group == empty.reoperations == ()
    well = answer(data([{"last_seen_on": on(400)}]), later(), YEAR)
    assert well.kinds == ()
    assert well.any_kind.total.evaluable == 1


def test_a_column_that_the_cases_lack_is_refused() -> None:
    with pytest.raises(ValueError, match="cases have no column 'shoe_size'"):
        answer(service(), later(), YEAR, by="shoe_size")
