"""The pages that put an injury right which was entered on the wrong patient or side."""

from typing import Any

import pytest
from django.test import Client

from registry.models import AuditEntry, Injury, Patient, PatientSite, Person, RecordMove
from tests import builders
from tests.looked import looked_for

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def client(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


@pytest.fixture
def injury(db: None) -> Injury:
    return builders.procedure(builders.injury()).injury


@pytest.fixture
def right_one(db: None) -> Patient:
    return builders.patient(family_name="Rightful")


def text(answer: Any) -> str:
    return str(answer.content.decode())


def test_the_right_patient_is_searched_for_and_everything_is_shown_before(
    client: Client, injury: Injury, right_one: Patient
) -> None:
    address = f"/injuries/{injury.pk}/move/"
    assert "Reviews: " in text(client.get(address))
    assert f"?to={right_one.key}" in text(looked_for(client, "rightful", address))
    assert "Nobody else" in text(looked_for(client, "zzz", address))
    page = text(client.get(address, {"to": right_one.key}))
    assert "Give it to Rightful, Ada" in page
    assert 'name="to_version" value="1"' in page


def test_an_injury_is_moved_and_moved_back(
    client: Client, injury: Injury, right_one: Patient
) -> None:
    address = f"/injuries/{injury.pk}/move/?to={right_one.key}"
    sent = {"version": "1", "to_version": "1", "reason": "the other card"}
    answer = client.post(address, sent, follow=True)
    assert "Moved: Left shoulder, 2026 is Rightful, Ada&#x27;s now" in text(answer)
    injury.refresh_from_db()
    assert injury.patient == right_one
    assert "the other card" in text(client.get("/moves/"))
    one = RecordMove.objects.get()
    assert "Undone" in text(client.post(f"/moves/{one.pk}/undo/", follow=True))
    assert "Nothing was changed" in text(client.post(f"/moves/{one.pk}/undo/", follow=True))


def test_a_move_over_a_newer_version_says_so(
    client: Client, injury: Injury, right_one: Patient
) -> None:
    address = f"/injuries/{injury.pk}/move/?to={right_one.key}"
    sent = {"version": "9", "to_version": "1", "reason": "x"}
    assert "was changed by somebody else" in text(client.post(address, sent))
    assert "This field is required" in text(client.post(address, {**sent, "reason": ""}))
    assert RecordMove.objects.count() == 0


def test_a_patient_of_another_site_is_not_found(client: Client, injury: Injury) -> None:
    elsewhere = builders.patient(at=builders.site("south"))
    address = f"/injuries/{injury.pk}/move/"
    assert client.get(address, {"to": elsewhere.key}).status_code == 404


def test_the_side_is_put_right(client: Client, injury: Injury) -> None:
    address = f"/injuries/{injury.pk}/side/"
    assert "Is it the right shoulder?" in text(client.get(address))
    assert "This field is required" in text(client.post(address, {"version": "1", "exams": "turn"}))
    sent = {"version": "1", "exams": "turn", "reason": "the film"}
    assert "it is the right shoulder now" in text(client.post(address, sent, follow=True))
    injury.refresh_from_db()
    assert injury.side == "right"


def test_the_patients_page_leads_to_both(client: Client, injury: Injury) -> None:
    page = text(client.get(f"/patients/{injury.patient.key}/"))
    assert f"/injuries/{injury.pk}/move/" in page
    assert f"/injuries/{injury.pk}/side/" in page
    assert 'href="/moves/"' in page


def test_nothing_moved_yet_is_said(client: Client) -> None:
    assert "Nothing was moved" in text(client.get("/moves/"))


def test_names_are_shown_only_of_whom_one_may_see_and_written_down(
    client: Client, injury: Injury, right_one: Patient
) -> None:
    whose = injury.patient
    address = f"/injuries/{injury.pk}/move/?to={right_one.key}"
    sent = {"version": "1", "to_version": "1", "reason": "the other card"}
    client.post(address, sent, follow=True)
    PatientSite.objects.filter(patient=right_one).update(site=builders.site("south"))
    page = text(client.get("/moves/"))
    assert f"{whose.identity} ({whose.key})" in page
    assert right_one.key in page
    assert "Rightful" not in page
    entry = AuditEntry.objects.get(action="read", reason="moves")
    assert entry.after == {"keys": [whose.key]}
