from typing import Any

import pandas as pd
import pytest

from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Applied
from tests.analytics.cohort import data, film, on

FAILS = DEFINITIONS["fixation-failure"]
FIRST = film(2, translation_pct=5)


def judged(*films: dict[str, Any], **case: Any) -> Applied:
    return apply(FAILS, data([case], list(films)))


def verdict(*films: dict[str, Any], **case: Any) -> dict[str, Any]:
    row = judged(*films, **case).verdicts.loc[1]
    return {key: None if pd.isna(value) else value for key, value in row.items()}


def day(number: int) -> pd.Timestamp:
    return pd.Timestamp(on(number))


@pytest.mark.parametrize(("now", "lost"), [(54, False), (55, True), (90, True)])
def test_half_a_shaft_of_new_translation_is_a_failure(now: int, lost: bool) -> None:
    found = verdict(FIRST, film(90, translation_pct=now))
    assert (found["event_on"] == day(90)) is lost
    assert (found["seen_until"] == day(90)) is not lost


@pytest.mark.parametrize("hardware", ["loose", "broken", "migrated"])
def test_hardware_that_lets_go_is_a_failure_whatever_the_view(hardware: str) -> None:
    found = verdict(FIRST, film(40, translation_pct=5), film(90, hardware=hardware, view="ap"))
    assert (found["seen_until"], found["event_on"]) == (day(40), day(90))


@pytest.mark.parametrize(
    "later",
    [
        {"translation_pct": 5, "view": "ap"},
        {"translation_pct": 5, "position": "supine"},
        {"translation_pct": 5, "hardware": "unknown"},
        {"hardware": "intact"},
    ],
)
def test_a_film_that_tells_only_half_shows_nothing(later: dict[str, Any]) -> None:
    assert verdict(FIRST, film(90, **later))["seen_until"] == day(2)


def test_removed_hardware_has_not_failed_and_the_fragments_are_still_watched() -> None:
    gone = {"hardware": "removed"}
    assert verdict(FIRST, film(90, translation_pct=6, **gone))["seen_until"] == day(90)
    assert verdict(FIRST, film(90, translation_pct=80, **gone))["event_on"] == day(90)


def test_without_a_first_film_that_tells_all_nothing_can_be_judged() -> None:
    for first in (
        film(2),
        film(28, translation_pct=5),
        film(2, translation_pct=5, hardware="unknown"),
    ):
        assert verdict(first, film(90, translation_pct=80))["not_evaluable"] == "no_baseline"


def test_hardware_loose_from_the_start_held_nothing() -> None:
    found = verdict(film(2, translation_pct=5, hardware="loose"), film(90, translation_pct=80))
    assert (found["not_evaluable"], found["event_on"], found["event_film"]) == (
        "not_reduced",
        None,
        -1,
    )


def test_a_torn_joint_has_no_fragments() -> None:
    found = verdict(FIRST, film(90, translation_pct=80), injury_kind="ac_joint")
    assert found["not_evaluable"] == "not_a_fracture"


def test_films_after_a_revision_show_another_construct() -> None:
    found = verdict(FIRST, film(90, translation_pct=80), revised_on=on(60))
    assert (found["event_on"], found["competing"]) == (None, "revision")


def test_nobody_and_nothing_give_no_verdicts() -> None:
    assert apply(FAILS, data([])).verdicts.empty
    assert verdict()["not_evaluable"] == "no_baseline"
