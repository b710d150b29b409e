"""Adding, correcting and taking away another contact, by its pages."""

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import AlternativeContact, Patient, Person
from tests import builders

pytestmark = pytest.mark.django_db
SENT = {"name": "Imre Quill", "relation": "son", "phone": "0555 010 1111", "version": "1"}


@pytest.fixture
def patient(client: Client, coordinator: Person) -> Patient:
    client.force_login(coordinator)
    return builders.patient()


def add(client: Client, patient: Patient, **values: str) -> str:
    url = reverse("patient-contact-add", args=[patient.key])
    return client.post(url, {**SENT, **values}, follow=True).content.decode()


def test_one_is_added_corrected_and_taken_away(client: Client, patient: Patient) -> None:
    assert "Imre Quill (son), 0555 010 1111" in add(client, patient)
    row = AlternativeContact.objects.get()
    client.post(reverse("contact-correct", args=[row.pk]), {**SENT, "phone": "0555 010 3333"})
    row.refresh_from_db()
    assert (row.phone, row.version) == ("0555 010 3333", 2)
    client.post(reverse("contact-remove", args=[row.pk]), {"reason": "moved out"})
    assert not AlternativeContact.objects.exists()


def test_what_is_missing_is_asked_for(client: Client, patient: Patient) -> None:
    assert "This field is required" in add(client, patient, phone="")
    assert not AlternativeContact.objects.exists()


def test_a_correction_over_a_newer_one_shows_both(client: Client, patient: Patient) -> None:
    add(client, patient)
    row = AlternativeContact.objects.get()
    AlternativeContact.objects.update(version=2, phone="9")
    answer = client.post(reverse("contact-correct", args=[row.pk]), SENT)
    assert answer.status_code == 409
    assert "Somebody else saved this first" in answer.content.decode()
