import pytest

from analytics.answers import burden, outcomes, outside
from analytics.answers.burden import GRADES
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
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


def test_the_grades_are_those_that_are_recorded() -> None:
    assert set(GRADES) == set(ComplicationGrade.values)
