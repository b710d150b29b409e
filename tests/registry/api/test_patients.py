"""Patients by key over the interface."""

from collections.abc import Callable
from typing import Any

import pytest

from followup.models import Review
from registry.models import Patient, PatientSite, Person
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/patients/"


@pytest.fixture
def api(coordinator: Person) -> Program:
    return signed_in(coordinator)


def test_a_patient_is_shown_by_key_and_without_a_name(api: Program) -> None:
    patient = builders.patient()
    answer = api.get(f"{URL}{patient.key}/")
    assert answer.status_code == 200
    assert answer["ETag"] == '"1"'
    assert answer.json()["key"] == patient.key
    assert patient.identity.family_name not in answer.content.decode()


def test_without_a_token_nobody_comes_in(db: None) -> None:
    answer = Program().get(URL)
    assert answer.status_code == 401
    assert answer["Content-Type"] == "application/problem+json"
    assert answer["WWW-Authenticate"] == "Token"


def test_a_patient_of_another_site_is_not_there(api: Program) -> None:
    theirs = builders.patient(at=builders.site("south"))
    answer = api.get(f"{URL}{theirs.key}/")
    assert answer.status_code == 404
    assert answer.json()["title"] == "Not found"
    assert api.get(URL).json()["count"] == 0


def test_a_filter_by_site_does_not_tell_where_else_a_patient_is_treated(
    api: Program, coordinator: Person
) -> None:
    here, there = builders.patient(), builders.site("south")
    PatientSite.objects.create(patient=here, site=there)
    own = builders.site().code
    assert [row["key"] for row in api.get(f"{URL}?site={own}").json()["results"]] == [here.key]
    for code in (there.code, "nowhere"):
        assert api.get(f"{URL}?site={code}").json()["count"] == 0
    builders.person(coordinator.username, south="coordinator")
    both = signed_in(Person.objects.get(pk=coordinator.pk))
    assert both.get(f"{URL}?site={there.code}").json()["count"] == 1


def test_the_wrong_role_is_refused(quality_lead: Person) -> None:
    answer = signed_in(quality_lead).get(URL)
    assert answer.status_code == 403
    assert answer.json()["status"] == 403


def test_an_administrator_does_not_use_the_interface(administrator: Person) -> None:
    assert signed_in(administrator).get(URL).status_code == 403


def test_a_death_is_recorded_over_the_version_that_was_read(api: Program, defaults: None) -> None:
    procedure = builders.procedure()
    key = procedure.injury.patient.key
    answer = api.change(
        f"{URL}{key}/",
        {"status": "died", "status_on": "2026-11-01", "status_note": "told by the family"},
    )
    assert answer.status_code == 200
    assert answer["ETag"] == '"2"'
    assert answer.json()["status"] == "died"
    closed = Review.objects.filter(procedure=procedure, ended_because="death")
    assert closed.exists()


def test_a_write_without_a_version_is_refused_with_428(api: Program) -> None:
    patient = builders.patient()
    answer = api.patch(f"{URL}{patient.key}/", {"status": "moved", "status_on": "2026-11-01"})
    assert answer.status_code == 428
    assert Patient.objects.get().status == "active"


def test_a_write_over_an_old_version_is_refused_with_412(api: Program) -> None:
    patient = builders.patient()
    url, change = f"{URL}{patient.key}/", {"status": "moved", "status_on": "2026-11-01"}
    assert api.change(url, change).status_code == 200
    answer = api.change(url, {"status": "active"})
    assert answer.status_code == 412
    assert "you have version 1, it is now 2" in answer.json()["detail"]
    assert Patient.objects.get().status == "moved"


def test_what_cannot_be_taken_is_named_by_field(api: Program) -> None:
    patient = builders.patient()
    answer = api.change(f"{URL}{patient.key}/", {"status": "died"})
    assert answer.status_code == 400
    body = answer.json()
    assert set(body) == {"type", "title", "status", "detail", "faults"}
    assert body["faults"] == {"status_on": ["Give the date on which this happened."]}


def test_lists_are_paged_and_filtered(api: Program) -> None:
    for _ in range(3):
        builders.patient()
    page = api.get(URL, {"page_size": 2}).json()
    assert (page["count"], len(page["results"])) == (3, 2)
    assert page["next"].endswith("page=2&page_size=2")
    assert api.get(URL, {"status": "died"}).json()["count"] == 0
    assert api.get(URL, {"site": "north"}).json()["count"] == 3
    assert api.get(URL, {"changed_since": "2026-11-26T00:00:00Z"}).json()["count"] == 0
    assert api.get(URL, {"page": 9}).status_code == 404
    assert api.get(URL, {"status": "lost"}).status_code == 400


@pytest.mark.parametrize(
    ("moment", "code"),
    [
        # PostgreSQL takes no offset of 16 hours, and a year before the first is none.
        ("0777-08-02T23:36:24+16:08", 200),
        ("2026-11-24T00:00:00-23:59", 200),
        ("0001-01-01T00:00:00+14:00", 400),
        ("9999-12-31T23:00:00-10:00", 400),
    ],
)
def test_any_moment_that_can_be_written_is_answered(api: Program, moment: str, code: int) -> None:
    assert api.get(URL, {"changed_since": moment}).status_code == code


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    for _ in range(3):
        builders.patient()
    few = cost(api, URL, counted)
    for _ in range(20):
        builders.patient()
    assert cost(api, URL, counted) == few
