"""Injuries and their classes over the interface."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from registry.models import Classification, Injury, PatientSite, Person, Procedure
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/injuries/"


@pytest.fixture
def api(coordinator: Person) -> Program:
    return signed_in(coordinator)


def hurt(key: str, **changes: Any) -> dict[str, Any]:
    return {
        "patient": key,
        "side": "right",
        "injured_earliest": "2026-06-01",
        "injured_latest": "2026-06-30",
        **changes,
    }


def test_an_injury_is_recorded_with_its_classes_and_the_age_at_it(api: Program) -> None:
    patient = builders.patient()
    classes = [{"system": "neer", "code": "IIB"}, {"system": "rockwood", "code": "V"}]
    sent = hurt(patient.key, classifications=classes, smoking="current", bmi_kg_m2="27.4")
    answer = api.post(URL, sent)
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    body = answer.json()
    assert (body["age_years"], body["sex"], body["bmi_kg_m2"]) == (46, "female", "27.4")
    assert body["site"] == "north"
    shown = {(one["system"], one["code"]) for one in body["classifications"]}
    assert shown == {("neer", "IIB"), ("rockwood", "V")}


def test_an_injury_is_read_back_by_key_and_without_a_name(api: Program) -> None:
    row = builders.injury()
    answer = api.get(f"{URL}{row.pk}/")
    assert answer.json()["patient"] == row.patient.key
    assert answer["ETag"] == '"1"'
    assert row.patient.identity.family_name not in answer.content.decode()


def test_bounds_out_of_order_are_refused(api: Program) -> None:
    sent = hurt(builders.patient().key, injured_latest="2026-05-01")
    answer = api.post(URL, sent)
    assert "first possible day" in answer.json()["faults"]["injured_latest"][0]


def test_an_injury_before_birth_or_to_come_is_refused_by_its_field(api: Program) -> None:
    key = builders.patient().key
    early = hurt(key, injured_earliest="1970-01-01", injured_latest="1970-01-01")
    answer = api.post(URL, early)
    assert "before the patient's birth" in answer.json()["faults"]["injured_earliest"][0]
    late = hurt(key, injured_earliest="2090-01-01", injured_latest="2090-01-01", checked=True)
    assert "in the future" in api.post(URL, late).json()["faults"]["injured_earliest"][0]


def test_a_child_is_asked_about_once(api: Program) -> None:
    young = builders.patient(birth_earliest=date(2016, 1, 1), birth_latest=date(2016, 1, 1))
    answer = api.post(URL, hurt(young.key))
    assert "unusual" in answer.json()["faults"]["age_years"][0]
    assert api.post(URL, hurt(young.key, checked=True)).json()["flags"] == ["age_years"]


def test_a_code_that_is_none_is_refused(api: Program) -> None:
    answer = api.post(URL, hurt(builders.patient().key, side="middle"))
    assert answer.status_code == 400
    assert "not a valid choice" in answer.json()["faults"]["side"][0]


def test_a_class_of_another_system_is_refused(api: Program) -> None:
    sent = hurt(builders.patient().key, classifications=[{"system": "neer", "code": "15.3A"}])
    answer = api.post(URL, sent)
    assert answer.status_code == 400
    assert "Neer has no 15.3A" in str(answer.json()["faults"]["classifications"])
    assert not Injury.objects.exists()


def test_a_patient_of_another_site_cannot_be_given_an_injury(api: Program) -> None:
    theirs = builders.patient(at=builders.site("south"))
    assert "patient" in api.post(URL, hurt(theirs.key)).json()["faults"]


def test_a_patient_treated_at_a_second_site_is_followed_there(api: Program) -> None:
    somebody = builders.person("both", north="coordinator", south="coordinator")
    patient = builders.patient()
    answer = signed_in(somebody).post(URL, hurt(patient.key, site="south"))
    assert answer.json()["site"] == "south"
    assert PatientSite.objects.filter(patient=patient, site__code="south").exists()
    assert api.get(f"{URL}{answer.json()['id']}/").status_code == 404


def test_a_correction_needs_a_reason_and_the_newest_version(api: Program) -> None:
    url = f"{URL}{builders.injury().pk}/"
    assert "reason" in api.change(url, {"side": "right"}).json()["faults"]
    change = {"side": "right", "reason": "wrong side typed"}
    assert api.patch(url, change).status_code == 428
    answer = api.change(url, change)
    assert (answer.status_code, answer["ETag"], answer.json()["side"]) == (200, '"2"', "right")
    assert api.change(url, change).status_code == 412


def test_an_injury_after_its_operation_is_refused(api: Program) -> None:
    row = builders.procedure().injury
    sent = {"injured_earliest": "2026-06-20", "injured_latest": "2026-06-20", "reason": "x"}
    answer = api.change(f"{URL}{row.pk}/", sent)
    assert "after the first operation" in answer.json()["faults"]["injured_earliest"][0]


def test_a_new_opinion_supersedes_the_earlier_one(api: Program) -> None:
    row = builders.injury()
    answer = api.post(f"{URL}{row.pk}/classify/", {"system": "neer", "code": "V"})
    assert answer.status_code == 201
    assert [one["code"] for one in answer.json()["classifications"]] == ["V"]
    assert Classification.objects.filter(injury=row, superseded=True).count() == 1
    answer = api.change(f"{URL}{row.pk}/", {"classifications": [], "reason": "x"})
    assert "classify" in answer.json()["faults"]["classifications"][0]


def test_an_injury_of_another_patient_is_moved_over_the_version_that_was_read(api: Program) -> None:
    row, to = builders.injury(), builders.patient()
    sent = {"patient": to.key, "reason": "the other card"}
    assert api.act(f"{URL}{row.pk}/move/", sent, version=9).status_code == 412
    answer = api.act(f"{URL}{row.pk}/move/", sent)
    assert (answer.status_code, answer.json()["patient"]) == (200, to.key)
    assert answer["ETag"] == '"2"'
    elsewhere = builders.patient(at=builders.site("south"))
    refused = api.act(f"{URL}{row.pk}/move/", {**sent, "patient": elsewhere.key}, version=2)
    assert "patient" in refused.json()["faults"]


def test_an_injury_of_the_other_side_is_turned(api: Program) -> None:
    row = builders.procedure().injury
    answer = api.act(f"{URL}{row.pk}/side/", {"reason": "the film"})
    assert (answer.status_code, answer.json()["side"]) == (200, "right")
    assert "reason" in api.act(f"{URL}{row.pk}/side/", {}, version=2).json()["faults"]
    change = {"side": "left", "reason": "typed"}
    assert "side" in api.change(f"{URL}{row.pk}/", change, version=2).json()["faults"]


def test_a_wrong_injury_is_voided_with_a_reason_once_nothing_stands_on_it(api: Program) -> None:
    standing, free = builders.procedure().injury, builders.injury()
    answer = api.act(f"{URL}{standing.pk}/void/", {"reason": "wrong patient"})
    assert "void that first" in answer.json()["faults"]["whole"][0]
    url = f"{URL}{free.pk}/void/"
    assert api.post(url, {"reason": "wrong patient"}).status_code == 428
    assert "reason" in api.act(url, {}).json()["faults"]
    assert api.act(url, {"reason": "wrong patient"}).status_code == 204
    assert api.get(f"{URL}{free.pk}/").status_code == 404
    assert Injury.everything.get(pk=free.pk).void_reason == "wrong patient"
    assert Procedure.objects.count() == 1


def test_injuries_are_filtered(api: Program) -> None:
    row = builders.injury()
    builders.injury(classes={"neer": "V"}, side="right", kind="ac_joint")

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert (found(), found(patient=row.patient.key), found(side="right")) == (2, 1, 1)
    assert (found(neer="V"), found(kind="ac_joint"), found(neer="I")) == (1, 1, 0)
    assert (found(injured_from="2026-06-02"), found(injured_to="2026-06-01")) == (0, 2)


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    builders.injury()
    few = cost(api, URL, counted)
    for _ in range(12):
        builders.injury()
    assert cost(api, URL, counted) == few
