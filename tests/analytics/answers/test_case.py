from typing import Any

import pytest

from analytics.answers.case import CaseVerdict, happenings, judged
from analytics.endpoints.catalogue import DEFINITIONS, LOSS, apply, definitions_of
from analytics.endpoints.definition import Data
from analytics.endpoints.verdicts import table
from tests.analytics.cohort import data, film, on


def one(given: Data, name: str = "rise-3mm") -> CaseVerdict:
    (found,) = judged(given, 1, [DEFINITIONS[name]])
    return found


def test_the_films_that_decided_are_named_with_their_numbers() -> None:
    found = one(data(films=[film(2, 9.0), film(40, 9.6), film(90, 13.2), film(120, 13.0)]))
    assert found.state == "lost"
    assert found.baseline is not None
    assert found.last_held is not None
    assert found.first_lost is not None
    assert [found.baseline.day, found.last_held.day, found.first_lost.day] == [2, 40, 90]
    assert found.first_lost.measure == pytest.approx(4.2)
    assert (found.first_lost.now, found.first_lost.before) == (13.2, 9.0)
    assert found.first_lost.taken_on == on(90)
    assert found.decided_by == found.first_lost
    assert [film.lost for film in found.films] == [False, False, True, True]


@pytest.mark.parametrize(
    ("films", "state"),
    [
        ([film(2, 9.0), film(90, 9.5)], "held"),
        ([film(2, 9.0)], "first film only"),
        ([film(60, 9.0), film(90, 14.0)], "not evaluable"),
        ([], "not evaluable"),
    ],
)
def test_what_its_films_say_has_one_word(films: list[Any], state: str) -> None:
    found = one(data(films=films))
    assert found.state == state
    assert found.first_lost is None
    assert (found.why_not == "no_baseline") is (state == "not evaluable")


@pytest.mark.parametrize(
    ("odd", "apart"),
    [
        (film(-3, 9.0), "before the operation"),
        (film(40, 14.0, view="ap"), "another view than the first film (Zanca)"),
        (film(40, 14.0, position="supine"), "another posture than the first film (upright)"),
        (film(40, None), "not measured in a way that this definition needs"),
        (film(40, 14.0, calibrated=False), "not measured in a way that this definition needs"),
        (film(110, 9.0), "shows the revision"),
        (film(2, 9.2, view="ap"), "another view than the first film (Zanca)"),
    ],
)
def test_a_film_that_is_not_compared_says_why(odd: dict[str, Any], apart: str) -> None:
    films = sorted([film(2, 9.0), odd, film(90, 9.3)], key=lambda row: str(row["taken_on"]))
    found = one(data([{"revised_on": on(100)}], films))
    told = {row.apart for row in found.films if row.measure is None}
    assert told == {apart}
    assert sum(row.apart == "" for row in found.films) == 2


def test_a_case_without_a_first_film_says_so_of_every_film() -> None:
    found = one(data(films=[film(60, 9.0), film(90, 14.0)]))
    assert {row.apart for row in found.films} == {"no first film to compare it with"}


def test_what_came_first_is_kept_apart_from_what_the_films_say() -> None:
    found = one(data([{"revised_on": on(60)}], [film(2, 9.0), film(40, 9.5)]))
    assert (found.state, found.competing, found.competing_on) == ("held", "revision", on(60))
    assert found.standing is None


def test_a_loss_that_waits_for_a_second_film_is_open() -> None:
    found = one(data(films=[film(2, 9.0), film(90, 14.0)]), "rise-3mm-confirmed")
    assert (found.state, found.open_because) == ("first film only", "unconfirmed")


def test_what_happened_later_stands_in_order() -> None:
    case = {
        "removed_on": on(200),
        "revised_on": on(90),
        "patient_status": "moved",
        "status_on": on(300),
    }
    assert happenings(data([case]), 1) == (
        (on(90), "revision"),
        (on(200), "hardware out"),
        (on(300), "moved away"),
    )
    assert happenings(data(), 1) == ()


@pytest.mark.parametrize("definition", definitions_of(LOSS), ids=lambda one: one.id)
def test_a_verdict_is_the_one_that_the_table_of_verdicts_gives(definition: Any) -> None:
    courses = (
        [film(2, 9.0, 9.0, translation_pct=0), film(90, 14.0, 9.0, translation_pct=60)],
        [film(2, 9.0, 9.0, translation_pct=0), film(90, 9.5, 9.0, translation_pct=5)],
        [film(60, 9.0, 9.0)],
        [film(2, 9.0, 9.0), film(30, None, hardware="loose")],
    )
    for films in courses:
        given = data(films=films)
        row = table(apply(definition, given)).loc[1].to_dict()
        found = one(given, definition.id)
        assert (found.state != "not evaluable") == row["evaluable"]
        assert (found.state == "lost") == (row["verdict"] == "lost")
        assert (found.state in ("held", "first film only")) == (row["verdict"] == "held")
        assert found.why_not == row["why_not"]
        lost = found.first_lost.film_id if found.first_lost else -1
        assert lost == row["event_film"]
