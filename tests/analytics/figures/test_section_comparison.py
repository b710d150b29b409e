from datetime import date

from analytics.answers.comparison import Comparison, answer
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.figures.section_comparison import section
from analytics.figures.sections import About
from tests.analytics.cohort import data, film

ABOUT = About("index procedures", date(2026, 11, 25))


def compared(size: int) -> Comparison:
    cases = [{"construct_type": "LP"}] * (2 * size) + [{"construct_type": "HP"}] * size
    films = [film(2, 9.0, procedure_id=case) for case in range(1, len(cases) + 1)]
    films += [
        film(400, 14.0 if case % 3 == 0 else 9.2, procedure_id=case)
        for case in range(1, len(cases) + 1)
    ]
    return answer(data(cases, films), DEFINITIONS["rise-3mm"], HORIZONS["12m"])


def test_each_group_has_its_difference_to_the_reference_with_both_intervals() -> None:
    result = compared(9)
    made = section("compared", "Which construct does better?", result, ABOUT)
    (row,) = made.tables[0].rows
    assert row[:2] == ("HP", "3/9")
    assert row[2].startswith("+0.0 (-")
    assert row[3].startswith("1.00 (")
    assert "unadjusted" in made.tables[0].caption
    assert f"against {result.against}" in made.tables[0].caption
    assert made.sentence == result.sentence


def test_with_too_few_in_every_group_there_is_no_table() -> None:
    made = section("compared", "x", compared(1), ABOUT)
    assert made.tables == ()
    assert "No two groups have enough" in made.sentence
