"""Constructs over the interface: their checks, departures and parts."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from registry.models import Construct, ConstructType, Part, Person, Procedure
from registry.services import enrolment
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/constructs/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def bare_procedure() -> Procedure:
    """Return an operation whose construct is not known yet."""
    hurt = builders.injury()
    return enrolment.record_procedure(
        injury=hurt,
        values={"kind": "fixation", "performed_on": date(2026, 6, 5)},
        by=hurt.recorded_by,
        now=builders.NOW,
        today=builders.TODAY,
    )


def plate(procedure: Procedure, **changes: Any) -> dict[str, Any]:
    builders.construct_type("LP")
    return {
        "procedure": procedure.pk,
        "construct_type": "LP",
        "lateral_screw_count": 4,
        "lateral_screw_diameter_mm": "2.3",
        "lateral_screws_locking": "yes",
        **changes,
    }


def test_a_construct_is_recorded_with_its_checks_departures_and_parts(api: Program) -> None:
    screw = {"kind": "screw", "description": "2.3 mm locking screw", "quantity": 4, "batch": "B7"}
    sent = plate(
        bare_procedure(), parts=[screw], departure_reasons={"lateral-screws": "short fragment"}
    )
    answer = api.post(URL, sent)
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    body = answer.json()
    departed = {one["id"] for one in body["checks"] if one["verdict"] == "departure"}
    assert departed
    assert {one["check_id"] for one in body["departures"]} == departed
    assert all(one["basis"] == "common practice, no source" for one in body["checks"])
    part = body["parts"][0]
    assert (part["kind"], part["batch"], part["quantity"]) == ("screw", "B7", 4)


def test_the_reason_for_a_departure_is_kept(api: Program) -> None:
    row = bare_procedure()
    answer = api.post(URL, plate(row)).json()
    check = answer["departures"][0]["check_id"]
    assert answer["departures"][0]["reason"] == ""
    change = {"departure_reasons": {check: "short fragment"}, "reason": "asked the surgeon"}
    url = f"{URL}{answer['id']}/"
    answer = api.change(url, change)
    assert answer.json()["departures"][0]["reason"] == "short fragment"
    unknown = {"departure_reasons": {"no-check": "x"}, "reason": "x"}
    answer = api.change(url, unknown, version=2)
    assert "no such check" in answer.json()["faults"]["departure_reasons"][0]


def test_an_operation_has_one_construct(api: Program) -> None:
    row = builders.procedure()
    answer = api.post(URL, plate(row))
    assert "correct it instead" in answer.json()["faults"]["whole"][0]


def test_an_unknown_construct_type_is_refused(api: Program) -> None:
    answer = api.post(URL, plate(bare_procedure(), construct_type="ZZ"))
    assert "construct_type" in answer.json()["faults"]
    assert not Construct.objects.exists()


def test_a_construct_type_out_of_use_is_refused(api: Program) -> None:
    sent = plate(bare_procedure())
    ConstructType.objects.update(is_active=False)
    assert "no longer in use" in api.post(URL, sent).json()["faults"]["construct_type"][0]


def test_another_sites_operation_cannot_be_given_a_construct(api: Program) -> None:
    theirs = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    assert "procedure" in api.post(URL, plate(theirs)).json()["faults"]
    assert api.get(f"{URL}{theirs.construct.pk}/").status_code == 404


def test_a_correction_needs_a_reason_and_the_newest_version(api: Program) -> None:
    row = builders.procedure().construct
    url = f"{URL}{row.pk}/"
    change = {"lateral_screw_count": 6, "reason": "counted on the film"}
    assert api.patch(url, change).status_code == 428
    assert "reason" in api.change(url, {"lateral_screw_count": 6}).json()["faults"]
    answer = api.change(url, change)
    assert (answer.json()["lateral_screw_count"], answer["ETag"]) == (6, '"2"')
    assert api.change(url, change).status_code == 412


def test_an_impossible_count_is_refused_and_an_unusual_one_asked_about(api: Program) -> None:
    row = bare_procedure()
    answer = api.post(URL, plate(row, anchor_count=9))
    assert "not possible" in answer.json()["faults"]["anchor_count"][0]
    answer = api.post(URL, plate(row, anchor_count=5))
    assert "unusual" in answer.json()["faults"]["anchor_count"][0]
    answer = api.post(URL, plate(row, anchor_count=5, checked=True))
    assert answer.json()["flags"] == ["anchor_count"]


def test_a_part_is_added(api: Program) -> None:
    row = builders.procedure().construct
    url = f"{URL}{row.pk}/parts/"
    part = {"kind": "plate", "description": "lateral plate, 7 holes", "batch": "A1"}
    assert api.post(url, part).status_code == 201
    both = {**part, "batch_not_obtainable": True}
    assert "keep one" in api.post(url, both).json()["faults"]["batch"][0]
    assert Part.objects.get().implant_model.description == "lateral plate, 7 holes"
    answer = api.change(f"{URL}{row.pk}/", {"parts": [], "reason": "x"})
    assert "parts" in answer.json()["faults"]


def test_constructs_are_filtered(api: Program) -> None:
    row = builders.procedure()
    builders.procedure(construct={"construct_type": "HP"})

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert (found(), found(construct_type="HP"), found(procedure=row.pk)) == (2, 1, 1)
    assert (found(patient=row.injury.patient.key), found(performed_from="2026-07-01")) == (1, 0)


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    builders.procedure()
    few = cost(api, URL, counted)
    for _ in range(12):
        builders.procedure()
    assert cost(api, URL, counted) == few
