import pandas as pd
import pytest

from analytics.answers import burden, flow, function, outcomes, outside
from analytics.answers.burden import GRADES
from analytics.answers.horizons import HORIZONS
from analytics.answers.measures import MEASURES
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data
from analytics.rules.suppression import HIDDEN, Shape, table
from followup.models.complications import ComplicationGrade
from tests.analytics import cohort

SHAPES = [
    outside.RATES,
    outside.HARMS,
    outside.BURDEN,
    outside.STRIP,
    outside.LATER,
    outside.HARDWARE,
    outside.REVIEWS,
    outside.RESPONSES,
    outside.TIPPING,
]


def some() -> Data:
    cases = [{"construct_type": "LP"}] * 30 + [{"construct_type": "HP"}] * 12
    films = [
        {
            **cohort.film(day, length, procedure_id=number),
            "film_id": 2 * number + (day > 2),
            "reading_id": 2 * number + (day > 2),
        }
        for number in range(1, 41)
        for day, length in ((2, 9.0), (370, 14.0 if number % 9 == 0 else 9.0))
    ]
    harms = [cohort.harm(30, procedure_id=number) for number in range(1, 12)]
    harms += [cohort.harm(30, "stiffness", procedure_id=40)]
    return cohort.data(cases, films, harms)


def test_rates_for_outside_are_rounded_and_their_small_numbers_hidden() -> None:
    found = outcomes.to_rows(outcomes.answer(some(), DEFINITIONS["rise-3mm"], HORIZONS["12m"]))
    told = {row["group"]: row for row in table(found, outside.RATES)}
    assert (told["all"]["operated"], told["all"]["evaluable"]) == (40, HIDDEN)
    assert (told["all"]["events"], told["all"]["not_evaluable"]) == (HIDDEN, HIDDEN)
    assert told["all"]["rate"] is None
    assert set(told["all"]) == {"group", *outside.RATES.counts, "rate"}


def test_a_kind_that_one_patient_had_does_not_follow_from_the_others() -> None:
    found = burden.to_rows(burden.answer(some()))
    told = {(row["kind"], row["group"]): row for row in table(found, outside.BURDEN)}
    assert told["stiffness", "all"]["events"] == HIDDEN
    assert HIDDEN in (told["nerve", "all"]["events"], told[burden.ANY, "all"]["events"])
    assert told[burden.ANY, "all"]["operated"] == 40


@pytest.mark.parametrize("shape", SHAPES)
def test_wholes_and_parts_are_counts(shape: Shape) -> None:
    named = {name for whole, parts in shape.sums for name in (whole, *parts)}
    named |= {name for _, pair in shape.shares for name in pair}
    named |= {name for _, _, columns in shape.wholes for name in columns}
    assert named <= set(shape.counts)
    assert {word for word, _, _ in shape.wholes} <= set(shape.words)


def test_two_groups_beside_each_other_hide_what_the_table_of_rates_hides() -> None:
    rows = outcomes.to_rows(outcomes.answer(some(), DEFINITIONS["rise-3mm"], HORIZONS["12m"]))
    told = {row["group"]: row for row in table(rows, outside.RATES)}
    assert table(rows, outside.compared(["LP", "HP"])) == [told["HP"], told["LP"]]


def flowing() -> list[dict[str, object]]:
    view = some()
    applied = apply(DEFINITIONS["rise-3mm"], view)
    placed = flow.places(applied, view.cases, HORIZONS["12m"], pd.Timestamp(view.cutoff))
    parts = dict(list(placed.groupby(view.cases["construct_type"])))
    whole = {**parts, "all": placed}
    return flow.by_group({name: flow.flow(one, HORIZONS["12m"]) for name, one in whole.items()})


def test_the_flow_is_one_line_a_group_whose_stages_and_reasons_add_up() -> None:
    rows = flowing()
    shape = outside.flow(rows)
    test_wholes_and_parts_are_counts(shape)
    assert [row["group"] for row in rows] == ["HP", "LP", "all"]
    assert len(shape.sums) == len(flow.STAGES)
    for row in rows:
        for whole, parts in shape.sums:
            assert row[whole] == sum(int(str(row[part])) for part in parts), whole
    for name in shape.counts:
        assert rows[2][name] == int(str(rows[0][name])) + int(str(rows[1][name]))


def test_who_left_the_flow_does_not_follow_from_who_stayed() -> None:
    rows = flowing()
    told = {row["group"]: row for row in table(rows, outside.flow(rows))}
    left = "eligible: not seen at or after the horizon"
    assert rows[2][left] == 2
    assert told["all"][left] == HIDDEN
    assert HIDDEN in (told["all"]["eligible"], told["all"]["seen"])
    assert told["all"]["operated"] in (40, HIDDEN)


def test_a_measure_over_time_leaves_with_its_missing_and_without_medians() -> None:
    view = some()
    scores = pd.DataFrame(
        [
            {
                "procedure_id": number,
                "instrument": "pain_nrs",
                "answered_on": pd.Timestamp(cohort.on(365)),
                "day": 365,
                "horizon": "12m",
                "total": float(number % 5),
                "hardware_in_place": "yes",
            }
            for number in range(1, 31)
        ]
    )
    motion = pd.DataFrame(columns=["movement", "side", "mode"])
    measure = MEASURES["pain_nrs"]
    values = function.measured(measure, scores, motion, view.cases)
    cutoff = pd.Timestamp(view.cutoff)
    found = function.answer(measure, values, view.cases, HORIZONS["12m"], cutoff, "construct_type")
    rows = function.step_rows(found)
    shape = outside.function(rows)
    test_wholes_and_parts_are_counts(shape)
    for row in rows:
        for whole, parts in shape.sums:
            assert row[whole] == sum(int(str(row[part])) for part in parts), whole
    told = {(row["group"], row["horizon"]): row for row in table(rows, shape)}
    year = told["all", "12m"]
    assert (year["eligible"], year["number"]) == (40, 30)
    assert ("share_acceptable" in year) == (measure.acceptable is not None)
    assert not {"median", "lower_quartile", "upper_quartile"} & set(year)


def test_the_grades_are_those_that_are_recorded() -> None:
    assert set(GRADES) == set(ComplicationGrade.values)
