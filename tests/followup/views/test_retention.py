from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Destruction, Identity, Person, RetentionHold
from registry.models.audit import AuditEntry
from tests import builders
from tests.builders import NOW
from tests.followup.selectors.test_retention import long_ago, ruled

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]


@pytest.fixture(autouse=True)
def at_noon(time_machine: Any) -> None:
    cache.clear()
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def sam(client: Client) -> Person:
    person = builders.person("sam", north="surgeon")
    client.force_login(person)
    return person


def page(client: Client, query: str = "") -> str:
    return client.get(reverse("retention") + query).content.decode()


def test_without_a_rule_the_page_says_what_to_do(client: Client, sam: Person) -> None:
    assert "An administrator sets one under Setup, Keeping" in page(client)


def test_a_patient_is_kept_lifted_and_erased(client: Client, sam: Person) -> None:
    ruled()
    patient = long_ago()
    address = reverse("retention-decide", args=[patient.key])
    assert patient.key in page(client)
    assert patient.identity.family_name not in page(client)
    kept = client.post(address, {"decision": "keep", "reason": "a case at law"})
    assert kept.url == reverse("retention")
    assert "Nobody is past their time" in page(client)
    assert "a case at law" in page(client, "?show=held")
    assert client.post(address, {"decision": "lift", "reason": "it is over"}).status_code == 302
    assert RetentionHold.objects.get().lifted_by == sam
    sent = {"decision": "erase", "reason": "the review of November"}
    wrong = client.post(address, {**sent, "typed": "another"})
    assert wrong.status_code == 200
    assert f"Type {patient.key} here" in wrong.content.decode()
    assert Identity.objects.filter(patient=patient).exists()
    assert client.post(address, {**sent, "typed": patient.key.lower()}).status_code == 302
    assert not Identity.objects.filter(patient=patient).exists()
    assert Destruction.objects.get().by == sam
    assert client.get(address).status_code == 404


def test_what_is_missing_is_said_and_nothing_is_decided(client: Client, sam: Person) -> None:
    ruled()
    address = reverse("retention-decide", args=[long_ago().key])
    for sent in ({}, {"decision": "keep"}, {"decision": "burn", "reason": "x"}):
        assert client.post(address, sent).status_code == 200
    past = {"decision": "keep", "reason": "x", "until": "2020-01-01"}
    assert "is not to come" in client.post(address, past).content.decode()
    assert not RetentionHold.objects.exists()


def test_opening_the_page_of_one_is_written_down(client: Client, sam: Person) -> None:
    ruled()
    patient = long_ago()
    client.get(reverse("retention-decide", args=[patient.key]))
    entry = AuditEntry.objects.filter(action="read").latest("id")
    assert (entry.reason, entry.person_id) == ("retention", sam.pk)


def test_a_coordinator_does_not_decide(client: Client) -> None:
    client.force_login(builders.person("connie", north="coordinator"))
    assert client.get(reverse("retention")).status_code == 403


def test_a_hold_is_reached_from_the_page_of_a_patient_who_is_not_past_any_time(
    client: Client, sam: Person
) -> None:
    patient = builders.patient()
    address = reverse("retention-decide", args=[patient.key])
    shown = client.get(reverse("patient", args=[patient.key])).content.decode()
    assert f'href="{address}"' in shown
    assert client.post(address, {"decision": "keep", "reason": "a case at law"}).status_code == 302
    assert RetentionHold.objects.get().patient == patient
    client.force_login(builders.person("connie", north="coordinator"))
    shown = client.get(reverse("patient", args=[patient.key])).content.decode()
    assert address not in shown
