"""The pages of what the hospital's system sent."""

from typing import Any

import pytest
from django.test import Client

from registry.models import AuditEntry, HospitalDoor, HospitalMessage, Patient, Person
from tests import builders, hospital
from tests.looked import looked_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


@pytest.fixture
def patient(db: None) -> Patient:
    return builders.patient(family_name="Testfamily")


@pytest.fixture
def waiting(patient: Patient) -> HospitalMessage:
    return hospital.taken(hospital.adt("A08", "909090", phone="0555 31"))


def page(client: Client, row: HospitalMessage) -> str:
    answer = client.get(f"/hospital/{row.pk}/")
    assert answer.status_code == 200
    return answer.content.decode()


def post(client: Client, row: HospitalMessage, act: str, **sent: str) -> Any:
    return client.post(f"/hospital/{row.pk}/{act}/", sent, follow=True)


def test_the_list_begins_with_what_waits(client: Client, waiting: HospitalMessage) -> None:
    text = client.get("/hospital/").content.decode()
    assert "<h1>What did the hospital's system send?</h1>" in text
    assert "Details changed" in text
    assert "1 message," in text
    assert "No such message" in client.get("/hospital/?show=taken").content.decode()


def test_a_message_says_what_it_says_and_whom_it_may_be_about(
    client: Client, waiting: HospitalMessage, patient: Patient
) -> None:
    text = page(client, waiting)
    assert "0555 31" in text
    assert "PID|1||909090" in text
    assert f'value="{patient.key}"' in text
    none = looked_for(client, "zzz", f"/hospital/{waiting.pk}/")
    assert "Nobody of that name" in none.content.decode()


def test_a_person_chooses_the_patient(
    client: Client, waiting: HospitalMessage, patient: Patient
) -> None:
    answer = post(client, waiting, "take", patient=patient.key)
    assert "Changed: phone, number" in answer.content.decode()
    waiting.refresh_from_db()
    assert waiting.fate == "taken"
    text = page(client, waiting)
    assert "Whom is it about?" not in text
    assert AuditEntry.objects.filter(action="read", row_id=str(patient.pk)).exists()


def test_a_patient_of_another_site_cannot_be_chosen(
    client: Client, waiting: HospitalMessage
) -> None:
    elsewhere = builders.patient(at=builders.site("south"))
    assert post(client, waiting, "take", patient=elsewhere.key).status_code == 404


def test_what_still_waits_says_so(client: Client, waiting: HospitalMessage) -> None:
    assert "Waits for a person." in post(client, waiting, "take").content.decode()


def test_a_message_is_set_aside_with_a_reason(client: Client, waiting: HospitalMessage) -> None:
    assert "This field is required" in post(client, waiting, "aside").content.decode()
    assert "Set aside" in post(client, waiting, "aside", note="a namesake").content.decode()
    assert "Nothing was changed" in post(client, waiting, "aside", note="again").content.decode()
    assert "a namesake" in page(client, waiting)


def test_a_text_that_was_let_go_is_said_to_be(client: Client, patient: Patient) -> None:
    row = hospital.taken(hospital.adt("A08", "1", family="Stranger"))
    assert "The text is not kept" in page(client, row)


def test_an_administrator_opens_the_door_of_a_site(client: Client, administrator: Person) -> None:
    client.force_login(administrator)
    site = builders.site()
    assert "are not taken" in client.get("/setup/hospital/").content.decode()
    sent = {
        "version": "1",
        "is_open": "on",
        "facility": "HOSP",
        "number_systems": "HOSP = hospital number\n\nREGION = region",
        "tells_bookings": "False",
        "keep_days": "30",
    }
    address = f"/setup/hospital/{site.pk}/"
    assert client.post(address, sent).status_code == 302
    door = HospitalDoor.objects.get()
    assert door.number_systems == {"HOSP": "hospital number", "REGION": "region"}
    assert (door.is_open, door.keep_days, door.tells_bookings) == (True, 30, False)
    assert "Holdfast" in client.get("/setup/hospital/").content.decode()
    assert "HOSP = hospital number" in client.get(address).content.decode()
    assert client.post(address, {**sent, "version": "7"}).status_code == 409
    theirs = {**sent, "version": str(door.version), "tells_bookings": "True"}
    assert client.post(address, theirs).status_code == 302
    assert HospitalDoor.objects.get().tells_bookings is True
    assert "the hospital</td>" in client.get("/setup/hospital/").content.decode()
    wrong = client.post(address, {**sent, "number_systems": "HOSP"}).content.decode()
    assert "is not of the form" in wrong
