"""Who a patient is, for those who may know, and enrolling over the interface."""

from typing import Any

import pytest

from registry.models import AuditEntry, Patient, Person
from registry.models.identities import Identifier, Identity
from registry.models.patients import Consent
from tests import builders
from tests.api import Program, signed_in

pytestmark = pytest.mark.django_db
URL = "/api/v1/patients/"


@pytest.fixture
def api(coordinator: Person) -> Program:
    return signed_in(coordinator)


def somebody(**changes: Any) -> dict[str, Any]:
    return {
        "site": "north",
        "identity": {
            "family_name": "Farrow",
            "given_name": "Ines",
            "birth_earliest": "1971-02-03",
            "birth_latest": "1971-02-03",
            "sex": "female",
            "phone": "01632 960001",
        },
        "identifiers": [{"issuing_system": "hospital number", "value": "N-77"}],
        "consents": [
            {
                "purpose": "registry",
                "decision": "given",
                "decided_on": "2026-06-01",
                "basis": "signed form, version 2",
            }
        ],
        **changes,
    }


def test_opening_an_identity_is_written_down(api: Program, coordinator: Person) -> None:
    patient = builders.patient()
    answer = api.get(f"{URL}{patient.key}/identity/")
    assert answer.json()["family_name"] == patient.identity.family_name
    assert answer.json()["identifiers"][0]["issuing_system"] == "hospital number"
    entry = AuditEntry.objects.latest("id")
    assert (entry.action, entry.reason) == ("read", "api-patient-identity")
    assert entry.person_id == coordinator.pk


@pytest.mark.parametrize("role", ["film_reader", "quality_lead", "administrator"])
def test_who_may_not_know_names_is_refused(role: str) -> None:
    patient = builders.patient()
    program = signed_in(builders.person("nosy", north=role))
    assert program.get(f"{URL}{patient.key}/identity/").status_code == 403
    assert not AuditEntry.objects.filter(action="read").exists()


def test_an_identity_of_another_site_is_not_there(api: Program) -> None:
    theirs = builders.patient(at=builders.site("south"))
    assert api.get(f"{URL}{theirs.key}/identity/").status_code == 404


def test_an_identity_is_corrected_over_its_own_version(api: Program) -> None:
    row = builders.injury()
    url = f"{URL}{row.patient.key}/identity/"
    change = {"birth_earliest": "1990-05-17", "birth_latest": "1990-05-17"}
    assert api.patch(url, change).status_code == 428
    answer = api.change(url, change)
    assert (answer.status_code, answer["ETag"]) == (200, '"2"')
    row.refresh_from_db()
    assert row.age_years == 36
    assert api.change(url, change).status_code == 412


def test_a_birth_after_the_injury_is_refused_by_its_field(api: Program) -> None:
    url = f"{URL}{builders.injury().patient.key}/identity/"
    answer = api.change(url, {"birth_earliest": "2026-07-01", "birth_latest": "2026-07-01"})
    assert "after an injury" in answer.json()["faults"]["birth_earliest"][0]
    answer = api.change(url, {"birth_latest": "1900-01-01"})
    assert "first possible day" in answer.json()["faults"]["birth_latest"][0]
    answer = api.change(url, {"preferred_means": "text", "refused_means": ["text"]})
    assert "choose one" in answer.json()["faults"]["preferred_means"][0]
    assert Identity.objects.get().version == 1


def test_a_patient_is_enrolled_with_numbers_and_consent(api: Program) -> None:
    builders.site("north")
    answer = api.post(URL, somebody())
    assert (answer.status_code, answer["ETag"]) == (201, '"1"')
    patient = Patient.objects.get(key=answer.json()["key"])
    assert patient.identity.sort_name == "farrow ines"
    assert Identifier.objects.get().value == "N-77"
    assert Consent.objects.get().purpose == "registry"
    assert "Farrow" not in answer.content.decode()


def test_somebody_alike_is_answered_with_the_keys_of_who_is_here(api: Program) -> None:
    first = api.post(URL, somebody()).json()["key"]
    again = somebody(identifiers=[])
    answer = api.post(URL, again)
    assert answer.status_code == 409
    assert [one["key"] for one in answer.json()["alike"]] == [first]
    assert "birth date" in answer.json()["alike"][0]["because"]
    assert Patient.objects.count() == 1
    answer = api.post(URL, {**again, "different_from": [first]})
    assert answer.status_code == 201


def test_a_number_that_is_somebodys_is_refused(api: Program) -> None:
    first = api.post(URL, somebody()).json()["key"]
    other = somebody(different_from=[first])
    answer = api.post(URL, other)
    assert "already belongs to a patient" in answer.json()["faults"]["identifiers"][0]
    assert Patient.objects.count() == 1


def test_nobody_is_enrolled_at_another_site_or_half(api: Program) -> None:
    builders.site("south")
    assert "site" in api.post(URL, somebody(site="south")).json()["faults"]
    nameless = somebody()
    del nameless["identity"]["family_name"]
    faults = api.post(URL, nameless).json()["faults"]
    assert "family_name" in faults["identity"][0]
    assert not Patient.objects.exists()


def test_a_wrong_patient_is_voided(api: Program) -> None:
    patient = builders.patient()
    assert api.act(f"{URL}{patient.key}/void/", {"reason": "a test entry"}).status_code == 204
    assert api.get(f"{URL}{patient.key}/").status_code == 404
