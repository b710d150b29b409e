from typing import Any

import pytest

from analytics.answers.case import judged
from analytics.answers.case_words import explain, numbers, threshold
from analytics.endpoints.catalogue import DEFINITIONS
from tests.analytics.cohort import data, film, on


def said(films: list[Any], name: str = "rise-3mm", **case: Any) -> str:
    (found,) = judged(data([case], films), 1, [DEFINITIONS[name]])
    return explain(found)


def test_a_loss_is_said_with_its_films_its_numbers_and_the_measurement_error() -> None:
    assert said([film(2, 9.0), film(40, 9.6), film(90, 13.2)]) == (
        "Lost: on the Zanca film of 9 Apr 2024 (day 90) the CC distance was 13.2 mm against 9.0 mm: "
        "4.2 mm above the first film, more than the 3 mm of this definition; 2 mm could be "
        "measurement alone; the Zanca film of 19 Feb 2024 (day 40) still held, so it happened between "
        "the two."
    )


def test_a_case_that_held_names_its_last_comparable_film() -> None:
    assert said([film(2, 9.0), film(90, 9.5)]) == (
        "Held: on the Zanca film of 9 Apr 2024 (day 90), the last that can be compared, the CC "
        "distance was 9.5 mm against 9.0 mm: 0.5 mm above the first film, not more than the 3 mm of "
        "this definition; 2 mm could be measurement alone."
    )


def test_a_threshold_that_counts_itself_is_said_so() -> None:
    films = [film(2, 8.0, 8.0), film(90, 10.0, 8.0)]
    assert "25 % above the other side, at least the 25 % of this definition; 25 %" in said(
        films, "ratio-25"
    )
    held = [film(2, 8.0, 8.0), film(90, 9.9, 8.0)]
    assert "24 % above the other side, less than the 25 %" in said(held, "ratio-25")


def test_where_nothing_tells_how_well_it_was_measured_that_is_said() -> None:
    loose = {"calibrated": False}
    films = [
        film(2, None, None, ccd_side_ratio_pct=0.0, **loose),
        film(90, None, None, ccd_side_ratio_pct=40.0, **loose),
    ]
    told = said(films, "ratio-25")
    assert "measurement alone is not known on this film" in told
    assert "the CC distance was" not in told


def test_one_film_over_the_threshold_that_no_other_confirms_is_not_called_less() -> None:
    # The lone film of day 40 stands between films that held: a misreading, by this definition.
    films = [film(2, 9.0), film(40, 14.0), film(90, 9.1)]
    assert said(films, "rise-3mm-confirmed").startswith("Held: on the Zanca film of 9 Apr 2024")
    alone = [film(2, 9.0), film(90, 14.0)]
    assert said(alone, "rise-3mm-confirmed") == (
        "Held on the first film only, the Zanca film of 12 Jan 2024 (day 2): nothing comparable has "
        "been measured since; over the threshold on the last film only: no second film has confirmed "
        "it."
    )


def test_hardware_that_let_go_needs_no_number() -> None:
    films = [film(2, 9.0, translation_pct=0), film(90, None, hardware="broken")]
    told = said(films, "fixation-failure")
    assert "the Zanca film of 9 Apr 2024 (day 90) shows hardware loose, broken or migrated" in told
    (found,) = judged(data(films=films), 1, [DEFINITIONS["fixation-failure"]])
    assert numbers(found) == "hardware let go"
    moved = [film(2, 9.0, translation_pct=0), film(90, 9.0, translation_pct=60)]
    assert "60 % of the shaft's width more translation" in said(moved, "fixation-failure")


@pytest.mark.parametrize(
    ("case", "films", "words"),
    [
        ({}, [film(60, 9.0)], "no measurable film in the baseline window (up to day 27"),
        (
            {"revised_on": on(60)},
            [film(2, 9.0), film(40, 9.2)],
            "; a revision fixation came first, on 10 Mar 2024.",
        ),
        (
            {"patient_status": "died", "status_on": on(60)},
            [film(2, 9.0), film(40, 9.2)],
            "; the patient died on 10 Mar 2024.",
        ),
    ],
)
def test_why_not_and_what_came_first_are_said(
    case: dict[str, Any], films: list[Any], words: str
) -> None:
    assert words in said(films, **case)


def test_a_number_stands_with_what_it_is_measured_from() -> None:
    (found,) = judged(data(films=[film(2, 9.0), film(90, 13.2)]), 1, [DEFINITIONS["rise-3mm"]])
    assert numbers(found) == "4.2 mm above the first film"
    (none,) = judged(data(), 1, [DEFINITIONS["rise-3mm"]])
    assert numbers(none) == ""
    assert threshold(DEFINITIONS["ratio-25"]) == "25 %"
