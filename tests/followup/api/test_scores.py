"""Scores over the interface."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.models import Score
from registry.models import Injury, Person
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/scores/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def score(injury: Injury, **changes: Any) -> dict[str, Any]:
    return {
        "injury": injury.pk,
        "instrument": "sane",
        "taken_on": "2026-07-20",
        "value": 80,
        **changes,
    }


def test_a_total_is_recorded_and_says_whether_hardware_was_in_place(api: Program) -> None:
    hurt = builders.procedure().injury
    answer = api.post(URL, score(hurt))
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    shown = api.get(f"{URL}{answer.json()['id']}/").json()
    assert (shown["value"], shown["hardware_in_place"], shown["mode"]) == (80.0, "yes", "clinic")


def test_items_are_computed_to_their_total(api: Program) -> None:
    # QuickDASH: ((sum of n answers / n) - 1) x 25; eleven answers of 3 give 50.
    items = {str(number): 3 for number in range(1, 12)}
    sent = score(builders.injury(), instrument="quickdash", items=items)
    del sent["value"]
    answer = api.post(URL, sent).json()
    assert (answer["value"], answer["not_computable_reason"]) == (50.0, "")
    assert answer["items"]["11"] == 3.0


def test_too_many_missing_items_are_kept_as_not_computable(api: Program) -> None:
    sent = score(builders.injury(), instrument="quickdash", items={"1": 3, "2": 3})
    del sent["value"]
    answer = api.post(URL, sent)
    assert answer.status_code == 201
    assert (answer.json()["value"], bool(answer.json()["not_computable_reason"])) == (None, True)


@pytest.mark.parametrize(
    ("changes", "field", "told"),
    [
        ({"value": 101}, "value", "outside 0 to 100"),
        ({"value": None}, "value", "the total or the items"),
        ({"items": {"1": 3}}, "value", "not both"),
        ({"value": None, "items": {"one": 3}}, "items", "by their numbers"),
        ({"instrument": "tape"}, "instrument", "not a valid choice"),
        ({"taken_on": "2027-01-01"}, "taken_on", "in the future"),
    ],
)
def test_what_cannot_be_taken_is_named(
    api: Program, changes: dict[str, Any], field: str, told: str
) -> None:
    answer = api.post(URL, score(builders.injury(), **changes))
    assert answer.status_code == 400
    assert told in answer.json()["faults"][field][0]
    assert not Score.objects.exists()


def test_the_same_score_again_is_a_correction_or_nothing(api: Program) -> None:
    hurt = builders.injury()
    first = api.post(URL, score(hurt)).json()
    answer = api.post(URL, score(hurt, value=10))
    assert (answer.status_code, answer.json()["score"]) == (409, first["id"])
    assert Score.objects.get().value == 80


def test_the_same_day_in_another_mode_is_another_score(api: Program) -> None:
    hurt = builders.injury()
    first = api.post(URL, score(hurt)).json()
    second = api.post(URL, score(hurt, value=10, mode="remote"))
    assert second.status_code == 201
    assert Score.objects.count() == 2
    answer = api.change(f"{URL}{first['id']}/", {"mode": "remote"})
    assert answer.status_code == 400
    assert "taken this way already" in answer.json()["faults"]["mode"][0]


def test_an_older_form_is_answered_on_the_present_scale(api: Program) -> None:
    # 60 - 20
    hurt = builders.injury()
    answer = api.post(URL, score(hurt, instrument="oss_12_60", value=20))
    assert (answer.json()["instrument"], answer.json()["value"]) == ("oss", 40.0)
    again = api.post(URL, score(hurt, instrument="oss_12_60", value=20))
    assert again.status_code == 409
    refused = api.post(URL, score(builders.injury(), instrument="oss_12_60", value=9))
    assert "outside 12 to 60" in refused.json()["faults"]["value"][0]


def test_a_score_is_corrected_over_its_version_and_keeps_the_rest(api: Program) -> None:
    url = f"{URL}{api.post(URL, score(builders.injury(), mode='phone')).json()['id']}/"
    assert api.patch(url, {"value": 70}).status_code == 428
    answer = api.change(url, {"value": 70})
    assert (answer.json()["value"], answer.json()["mode"], answer["ETag"]) == (70.0, "phone", '"2"')
    assert api.change(url, {"value": 60}).status_code == 412
    answer = api.change(url, {"mode": "proxy"}, version=2)
    assert (answer.json()["value"], answer.json()["mode"]) == (70.0, "proxy")
    assert (
        "stays"
        in api.change(url, {"instrument": "ases"}, version=3).json()["faults"]["instrument"][0]
    )


def test_who_sees_may_not_always_write(coordinator: Person, film_reader: Person) -> None:
    hurt = builders.injury()
    assert signed_in(coordinator).get(URL).status_code == 200
    assert signed_in(coordinator).post(URL, score(hurt)).status_code == 403
    assert signed_in(film_reader).get(URL).status_code == 403


def test_another_sites_score_is_not_there(api: Program) -> None:
    theirs = builders.injury(builders.patient(at=builders.site("south")))
    row = signed_in(builders.person("sol", south="surgeon")).post(URL, score(theirs)).json()
    assert api.get(f"{URL}{row['id']}/").status_code == 404
    assert "injury" in api.post(URL, score(theirs)).json()["faults"]


def test_a_wrong_score_is_voided(api: Program) -> None:
    row = api.post(URL, score(builders.injury())).json()
    assert api.act(f"{URL}{row['id']}/void/", {"reason": "wrong patient"}).status_code == 204
    assert not Score.objects.exists()


def test_scores_are_filtered(api: Program) -> None:
    hurt = builders.injury()
    api.post(URL, score(hurt))
    api.post(URL, score(builders.injury(), instrument="pain_nrs", value=3, mode="phone"))

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert (found(), found(instrument="pain_nrs"), found(patient=hurt.patient.key)) == (2, 1, 1)
    assert (found(injury=hurt.pk), found(mode="phone"), found(taken_to="2026-07-01")) == (1, 1, 0)
    assert found(taken_from="2026-07-20") == 2


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    api.post(URL, score(builders.injury()))
    few = cost(api, URL, counted)
    for _ in range(12):
        api.post(URL, score(builders.injury()))
    assert cost(api, URL, counted) == few
