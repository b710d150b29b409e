from typing import Any

import pytest

from analytics.answers.nearness import Standing, shipped_mdc, standing
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Data
from tests.analytics.cohort import data, film, on


def stands(given: Data, name: str = "rise-3mm", **more: Any) -> Standing | None:
    return standing(apply(DEFINITIONS[name], given), 1, **more)


@pytest.mark.parametrize(
    ("last", "level"),
    [
        (9.9, None),
        # The threshold less one detectable change: 9 + 3 - 2.
        (10.0, "near"),
        (10.1, "near"),
        # The threshold itself is not exceeded.
        (12.0, "near"),
        (12.1, "lost"),
    ],
)
def test_a_rise_is_near_from_one_detectable_change_below_the_threshold(
    last: float, level: str | None
) -> None:
    found = stands(data(films=[film(2, 9.0), film(90, last)]))
    assert (found.level if found else None) == level
    if found is not None:
        assert found.film_id == 2
        assert found.measure == pytest.approx(last - 9.0)
        assert found.error == 2.0


@pytest.mark.parametrize(
    ("last", "level"),
    # The other side is 8 mm, so 2 mm are 25 %: near from 50 - 25 = 25 % on, which is 10 mm.
    [(9.9, None), (10.0, "near"), (12.0, "near"), (12.1, "lost")],
)
def test_a_ratio_is_near_by_the_detectable_change_of_that_very_film(
    last: float, level: str | None
) -> None:
    found = stands(data(films=[film(2, 8.0, 8.0), film(90, last, 8.0)]), "ratio-50")
    assert (found.level if found else None) == level


def test_a_threshold_that_counts_itself_is_lost_at_it() -> None:
    found = stands(data(films=[film(2, 8.0, 8.0), film(90, 10.0, 8.0)]), "ratio-25")
    assert found is not None
    assert found.level == "lost"


def test_the_detectable_change_of_the_service_stands_in_for_the_shipped_one() -> None:
    case = data(films=[film(2, 9.0), film(90, 11.2)])
    found = stands(case)
    assert found is not None
    assert found.error == shipped_mdc(DEFINITIONS["rise-3mm"])
    assert stands(case, mdc=lambda definition: 0.5) is None
    wide = stands(data(films=[film(2, 9.0), film(90, 9.2)]), mdc=lambda definition: 3.0)
    assert wide is not None
    assert wide.level == "near"


def test_a_first_film_alone_is_never_near_nor_is_one_that_came_no_nearer() -> None:
    assert stands(data(films=[film(2, 9.0, 8.0)]), "ratio-25") is None
    assert stands(data(films=[film(2, 9.0, 8.0), film(90, 8.9, 8.0)]), "ratio-25") is None
    moved = stands(data(films=[film(2, 9.0, 8.0), film(90, 9.1, 8.0)]), "ratio-25")
    assert moved is not None
    assert moved.level == "near"


def test_what_the_last_film_shows_counts_and_not_an_earlier_one() -> None:
    assert stands(data(films=[film(2, 9.0), film(40, 11.5), film(90, 9.3)])) is None


def test_of_a_days_films_the_higher_one_counts() -> None:
    both = [film(2, 9.0), film(90, 9.4), film(90, 11.5)]
    found = stands(data(films=both))
    assert found is not None
    assert found.film_id == 3


def test_without_a_detectable_change_in_the_unit_nothing_is_near() -> None:
    loose = {"calibrated": False}
    case = data(
        films=[
            film(2, None, None, ccd_side_ratio_pct=0.0, **loose),
            film(90, None, None, ccd_side_ratio_pct=24.0, **loose),
        ]
    )
    assert stands(case, "ratio-25") is None
    turned = [film(2, 9.0, translation_pct=10), film(90, 9.0, translation_pct=55)]
    assert stands(data(films=turned), "fixation-failure") is None


def test_hardware_that_let_go_is_lost_without_a_number() -> None:
    films = [
        film(2, 9.0, translation_pct=0),
        film(90, None, hardware="broken"),
    ]
    assert stands(data(films=films), "fixation-failure") == Standing("lost", 2, None, None)


def test_over_the_threshold_once_is_near_where_a_second_film_is_asked_for() -> None:
    once = data(films=[film(2, 9.0), film(90, 14.0)])
    found = stands(once, "rise-3mm-confirmed")
    assert found is not None
    assert found.level == "near"
    twice = data(films=[film(2, 9.0), film(90, 14.0), film(120, 14.0)])
    again = stands(twice, "rise-3mm-confirmed")
    assert again is not None
    assert again.level == "lost"


@pytest.mark.parametrize(
    "ended", [{"revised_on": on(100)}, {"patient_status": "died", "status_on": on(100)}]
)
def test_after_a_revision_or_a_death_there_is_nothing_to_warn_of(ended: dict[str, Any]) -> None:
    assert stands(data([ended], [film(2, 9.0), film(90, 14.0)])) is None
    assert stands(data([ended], [film(2, 9.0), film(90, 11.0)])) is None


def test_a_case_that_cannot_be_judged_does_not_stand_anywhere() -> None:
    assert stands(data(films=[film(60, 9.0), film(90, 14.0)])) is None
    assert stands(data()) is None
