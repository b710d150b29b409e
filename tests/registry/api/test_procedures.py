"""Operations over the interface: recorded and corrected through the services, with what follows."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from followup.models import Review
from registry.models import AuditEntry, Person, Procedure
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/procedures/"


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


def operation(**changes: Any) -> dict[str, Any]:
    return {"kind": "fixation", "performed_on": "2026-06-05", **changes}


def test_an_operation_is_recorded_and_its_reviews_are_planned(api: Program, defaults: None) -> None:
    hurt = builders.injury()
    answer = api.post(URL, operation(injury=hurt.pk, surgeon="selma", duration_minutes=70))
    assert answer.status_code == 201
    body = answer.json()
    assert (body["surgeon"], body["version"], answer["ETag"]) == ("selma", 1, '"1"')
    assert body["days_from_injury"] == [4, 4]
    assert body["patient"] == hurt.patient.key
    assert Review.objects.filter(procedure_id=body["id"]).exists()
    entry = AuditEntry.objects.filter(table="registry_procedure").latest("id")
    assert entry.person_id == Person.objects.get(username="selma").pk


def test_an_operation_is_read_back(api: Program) -> None:
    row = builders.procedure()
    answer = api.get(f"{URL}{row.pk}/")
    assert answer["ETag"] == '"1"'
    assert answer.json()["kind"] == "fixation"
    assert answer.json()["recorded_by"] == "recorder"


def test_an_operation_on_another_sites_injury_cannot_be_recorded(api: Program) -> None:
    theirs = builders.injury(builders.patient(at=builders.site("south")))
    answer = api.post(URL, operation(injury=theirs.pk))
    assert answer.status_code == 400
    assert "does not exist" in answer.json()["faults"]["injury"][0]
    assert not Procedure.objects.exists()


def test_another_sites_operation_is_not_there(api: Program) -> None:
    theirs = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    assert api.get(f"{URL}{theirs.pk}/").status_code == 404
    assert api.change(f"{URL}{theirs.pk}/", {"reason": "x"}).status_code == 404


def test_a_second_fixation_is_refused_by_its_field(api: Program) -> None:
    row = builders.procedure()
    answer = api.post(URL, operation(injury=row.injury_id, performed_on="2026-07-01"))
    assert answer.status_code == 400
    assert "already has its fixation" in answer.json()["faults"]["kind"][0]


def test_an_operation_before_the_injury_is_refused(api: Program) -> None:
    hurt = builders.injury()
    answer = api.post(URL, operation(injury=hurt.pk, performed_on="2026-05-01"))
    assert "before the injury" in answer.json()["faults"]["performed_on"][0]


def test_an_unusual_value_is_asked_about_once_and_kept_with_a_flag(api: Program) -> None:
    hurt = builders.injury()
    sent = operation(injury=hurt.pk, duration_minutes=600)
    answer = api.post(URL, sent)
    assert "unusual" in answer.json()["faults"]["duration_minutes"][0]
    answer = api.post(URL, {**sent, "checked": True})
    assert answer.json()["flags"] == ["duration_minutes"]


def test_an_impossible_value_is_refused_however_checked(api: Program) -> None:
    hurt = builders.injury()
    sent = operation(injury=hurt.pk, duration_minutes=2000, checked=True)
    answer = api.post(URL, sent)
    assert "not possible" in answer.json()["faults"]["duration_minutes"][0]


def test_a_missing_value_says_in_which_way_it_is_missing(api: Program) -> None:
    hurt = builders.injury()
    missing = {"duration_minutes": "not_done"}
    row = api.post(URL, operation(injury=hurt.pk, missing=missing)).json()
    assert row["missing"] == missing
    both = {"duration_minutes": 60, "missing": missing, "reason": "found the note"}
    answer = api.change(f"{URL}{row['id']}/", both)
    assert "keep one of the two" in answer.json()["faults"]["missing"][0]
    answer = api.change(f"{URL}{row['id']}/", {"duration_minutes": 60, "reason": "found it"})
    assert (answer.json()["missing"], answer.json()["duration_minutes"]) == ({}, 60)


def test_a_field_that_cannot_be_missing_is_named(api: Program) -> None:
    hurt = builders.injury()
    answer = api.post(URL, operation(injury=hurt.pk, missing={"approach": "unknown"}))
    assert "not a measured field" in answer.json()["faults"]["missing"][0]


def test_a_correction_moves_the_open_reviews(api: Program, defaults: None) -> None:
    row = builders.procedure()
    due = Review.objects.filter(procedure=row).latest("due_on").due_on
    answer = api.change(
        f"{URL}{row.pk}/", {"performed_on": "2026-06-08", "reason": "read the note"}
    )
    assert (answer.status_code, answer["ETag"]) == (200, '"2"')
    moved = Review.objects.filter(procedure=row).latest("due_on").due_on
    assert (moved - due).days == 3


def test_a_correction_needs_a_reason_a_version_and_the_newest_one(api: Program) -> None:
    url = f"{URL}{builders.procedure().pk}/"
    change = {"approach": "skin_lines", "reason": "read the note"}
    assert "reason" in api.change(url, {"approach": "skin_lines"}).json()["faults"]
    assert api.patch(url, change).status_code == 428
    assert api.change(url, change, version=7).status_code == 412
    assert api.change(url, change).status_code == 200
    assert api.change(url, change).status_code == 412


def test_what_an_operation_stands_on_stays(api: Program) -> None:
    row, other = builders.procedure(), builders.injury()
    answer = api.change(f"{URL}{row.pk}/", {"injury": other.pk, "reason": "x"})
    assert "stays" in answer.json()["faults"]["injury"][0]
    answer = api.change(f"{URL}{row.pk}/", {"kind": "washout", "reason": "x"})
    assert "stays" in answer.json()["faults"]["kind"][0]


def test_who_is_no_surgeon_of_the_site_cannot_have_operated(api: Program) -> None:
    builders.person("sol", south="surgeon")
    answer = api.post(URL, operation(injury=builders.injury().pk, surgeon="sol"))
    assert "no surgeon of this site" in answer.json()["faults"]["surgeon"][0]


def test_a_role_that_sees_but_may_not_change_at_that_site_is_refused() -> None:
    somebody = builders.person("both", north="quality_lead", south="surgeon")
    row = builders.procedure()
    assert signed_in(somebody).change(f"{URL}{row.pk}/", {"reason": "x"}).status_code == 404
    lead = builders.person("lead", north="quality_lead")
    assert signed_in(lead).get(f"{URL}{row.pk}/").status_code == 403


def test_operations_are_filtered(api: Program) -> None:
    row = builders.procedure()
    builders.procedure(construct={"construct_type": "HP"}, performed_on=date(2026, 7, 5))

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    assert found() == 2
    assert found(patient=row.injury.patient.key) == 1
    assert found(construct_type="HP") == 1
    assert found(performed_from="2026-07-01") == 1
    assert found(performed_to="2026-06-30", kind="fixation") == 1
    assert found(kind="washout") == 0
    assert found(injury=row.injury_id) == 1


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    builders.procedure()
    few = cost(api, URL, counted)
    for _ in range(12):
        builders.procedure()
    assert cost(api, URL, counted) == few
