"""Opening, reading, ending and looking at an emergency access, by its pages."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry, EmergencyAccess, Patient, Person
from registry.selectors import emergencies as selector
from tests import builders, world
from tests.api import signed_in
from tests.builders import NOW
from tests.scene import rows, said

pytestmark = pytest.mark.usefixtures("defaults")
WHY = "brought in by ambulance after a fall"


@pytest.fixture(autouse=True)
def now(time_machine: Any) -> None:
    cache.clear()
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def sam() -> Person:
    return builders.person("sam", south="surgeon")


@pytest.fixture
def here(client: Client, sam: Person) -> Client:
    client.force_login(sam)
    return client


def signed(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def sent(client: Client, **given: str) -> Any:
    return client.post(reverse("emergency-open"), {"reason": WHY, **given})


def test_the_key_opens_the_patient_and_each_page_is_written_down(here: Client) -> None:
    injury = builders.injury()
    whose = injury.patient
    page = reverse("patient", args=[whose.key])
    assert here.get(page).status_code == 404
    assert sent(here, key=whose.key.lower()).headers["Location"] == page
    shown = said(here.get(page))
    assert whose.identity.family_name in shown
    assert str(injury) in shown
    assert "Open in an emergency until" in shown
    assert reverse("injury-correct", args=[injury.pk]) not in shown
    here.get(reverse("patient-history", args=[whose.key]))
    access = EmergencyAccess.objects.get()
    told = list(selector.pages_of(access).values_list("reason", flat=True))
    assert told == [
        f"emergency access {access.pk}: {one}" for one in ("patient", "patient-history")
    ]


def test_number_and_birth_date_open_the_patient_and_neither_does_alone(here: Client) -> None:
    whose = builders.patient()
    number, born = whose.identifiers.get().value, "1980-05-17"
    for given in (
        {"number": number},
        {"born": born},
        {"number": number, "born": "1980-05-18"},
        {"number": number[:-1], "born": born},
        {"key": "nobody"},
        {},
    ):
        assert sent(here, **given).status_code == 200
    assert not EmergencyAccess.objects.exists()
    assert sent(here, number=number, born=born).status_code == 302


def test_nobody_is_told_apart_from_a_wrong_birth_date(here: Client) -> None:
    whose = builders.patient()
    number = whose.identifiers.get().value
    wrong = sent(here, number=number, born="1980-05-18").context["form"].errors
    absent = sent(here, number="none-such", born="1980-05-18").context["form"].errors
    assert wrong == absent
    assert whose.key not in str(wrong)


def test_whoever_tries_numbers_is_stopped(here: Client) -> None:
    whose = builders.patient()
    for _ in range(10):
        sent(here, key="nobody")
    assert "Too many tries" in said(sent(here, key=whose.key))
    assert not EmergencyAccess.objects.exists()


@pytest.mark.parametrize("reason", ["", "urgent"])
def test_without_a_reason_nothing_is_opened(here: Client, reason: str) -> None:
    assert sent(here, key=builders.patient().key, reason=reason).status_code == 200
    assert not EmergencyAccess.objects.exists()


def test_nothing_can_be_written_and_programs_get_nothing(here: Client, sam: Person) -> None:
    injury = builders.injury()
    key = injury.patient.key
    sent(here, key=key)
    before = rows()
    for name, arg in (
        ("patient-identity", key),
        ("patient-status", key),
        ("enrol-injury", key),
        ("injury-correct", injury.pk),
        ("injury-move", injury.pk),
        ("enrol-procedure", injury.pk),
    ):
        assert here.get(reverse(name, args=[arg])).status_code == 404, name
        assert here.post(reverse(name, args=[arg]), {"version": "1"}).status_code == 404, name
    for program in (here, signed_in(sam)):
        assert program.get(f"/api/v1/patients/{key}/").status_code == 404
        assert program.get(f"/fhir/r4/Patient/{key}").status_code == 404
    assert rows() == before


def test_a_picture_of_a_film_is_written_down_though_it_names_nobody(here: Client) -> None:
    things = world.one_of_each("north")
    picture = reverse("image-frame", args=[things["image_id"], things["number"]])
    assert here.get(picture).status_code == 404
    sent(here, key=things["key"])
    answer = here.get(picture)
    assert answer.status_code == 200
    access = EmergencyAccess.objects.get(person__username="sam")
    assert [one.reason.split(": ")[1] for one in selector.pages_of(access)] == ["image-frame"]


def test_own_work_meanwhile_is_not_taken_for_the_emergency(here: Client) -> None:
    own = builders.injury(builders.patient(builders.site("south")))
    sent(here, key=builders.patient().key)
    here.get(reverse("patient", args=[own.patient.key]))
    assert not selector.pages_of(EmergencyAccess.objects.get()).exists()


def test_it_ends_by_itself_and_can_be_closed(here: Client, sam: Person, time_machine: Any) -> None:
    key = builders.patient().key
    page = reverse("patient", args=[key])
    sent(here, key=key)
    access = EmergencyAccess.objects.get()
    assert key in said(here.get(reverse("emergency-open")))
    here.post(reverse("emergency-end", args=[access.pk]))
    assert here.get(page).status_code == 404
    sent(here, key=key)
    assert here.get(page).status_code == 200
    time_machine.move_to(NOW + timedelta(hours=1), tick=False)
    # A session that nobody used for so long has ended too.
    here.force_login(sam)
    assert here.get(page).status_code == 404
    assert key not in said(here.get(reverse("emergency-open")))


def test_nobody_closes_or_looks_at_what_is_not_theirs(here: Client, outsider: Person) -> None:
    sent(here, key=builders.patient().key)
    access = EmergencyAccess.objects.get()
    other = signed(outsider)
    assert other.post(reverse("emergency-end", args=[access.pk])).status_code == 404
    assert other.get(reverse("emergency", args=[access.pk])).status_code == 404
    assert access.patient.key not in said(other.get(reverse("emergencies")))


@pytest.mark.parametrize("role", ["quality_lead", "administrator"])
def test_the_site_sees_who_opened_what_by_key_and_says_what_it_found(
    here: Client, sam: Person, role: str
) -> None:
    whose = builders.patient(family_name="Unmistakable")
    sent(here, key=whose.key)
    here.get(reverse("patient", args=[whose.key]))
    access = EmergencyAccess.objects.get()
    lead = signed(builders.person("lead", north=role))
    listed = said(lead.get(reverse("emergencies")))
    one = lead.get(reverse("emergency", args=[access.pk]))
    for text in (listed, said(one)):
        assert whose.key in text
        assert WHY in text
        assert str(sam) in text
        assert "Unmistakable" not in text
    assert [page for _, page in one.context["opened"]] == ["patient"]
    lead.post(reverse("emergency", args=[access.pk]), {"finding": "they were in the ward"})
    access.refresh_from_db()
    assert access.finding == "they were in the ward"
    again = lead.post(reverse("emergency", args=[access.pk]), {"finding": "once more"})
    assert "looked at" in said(again)
    assert "they were in the ward" in said(lead.get(reverse("emergencies")))


def test_what_nobody_looked_at_comes_first_and_says_when_it_is_late(
    here: Client, time_machine: Any
) -> None:
    sent(here, key=builders.patient().key)
    time_machine.move_to(NOW + timedelta(days=8), tick=False)
    lead = signed(builders.person("lead", north="quality_lead"))
    assert "late: was due" in said(lead.get(reverse("emergencies")))


def test_where_it_cannot_be_written_down_nothing_is_shown(
    here: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    whose = builders.patient()
    sent(here, key=whose.key)

    def failing(**given: Any) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr("registry.services.emergencies.audit.record_read", failing)
    here.raise_request_exception = False
    answer = here.get(reverse("patient", args=[whose.key]))
    assert answer.status_code == 500
    assert whose.identity.family_name not in said(answer)
    assert AuditEntry.objects.exists()
    assert Patient.objects.exists()
