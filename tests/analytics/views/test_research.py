import io
import zipfile
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from analytics.models import ResearchExtract, ResearchProject
from analytics.services import research
from registry.models import Person
from tests import builders, world
from tests.analytics.services.test_research import GIVEN, decides, opened, operated
from tests.builders import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]


@pytest.fixture(autouse=True)
def at_noon(time_machine: Any) -> None:
    cache.clear()
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def quinn(client: Client) -> Person:
    person = builders.person("quinn", north="quality_lead")
    client.force_login(person)
    return person


def typed(**other: Any) -> dict[str, Any]:
    days = {name: GIVEN[name].isoformat() for name in ("starts_on", "ends_on")}
    return {**GIVEN, **days, "sites": [builders.site("north").pk], **other}


def test_a_project_is_opened_and_its_extract_taken(client: Client, quinn: Person) -> None:
    for _ in range(8):
        operated()
    answer = client.post(reverse("research-add"), typed())
    project = ResearchProject.objects.get()
    assert answer.url == reverse("research-one", args=[project.pk])
    page = client.get(answer.url).content.decode()
    assert "Nothing has left" in page
    assert "performed_on" in page
    taken = client.post(answer.url)
    assert taken["Content-Type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(taken.content)) as archive:
        assert len(archive.read("cases.csv").decode().splitlines()) == 9
    row = ResearchExtract.objects.get()
    assert row.content_hash[:12] in client.get(answer.url).content.decode()
    assert "Course of motion" in client.get(reverse("research")).content.decode()


def test_what_is_missing_is_said_by_the_field_and_what_was_typed_stays(
    client: Client, quinn: Person
) -> None:
    answer = client.post(reverse("research-add"), typed(approval="", columns=[]))
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "Choose the columns that the project needs." in page
    assert "How motion returns." in page
    assert not ResearchProject.objects.exists()


def test_a_site_that_is_not_ones_own_cannot_be_chosen(client: Client, quinn: Person) -> None:
    answer = client.post(reverse("research-add"), typed(sites=[builders.site("south").pk]))
    assert answer.status_code == 400
    assert not ResearchProject.objects.exists()


def test_too_few_and_what_is_near_are_refused_on_the_page(client: Client, quinn: Person) -> None:
    for _ in range(7):
        operated()
    address = reverse("research-one", args=[opened(quinn).pk])
    answer = client.post(address)
    assert answer.status_code == 200
    assert "list of persons" in answer.content.decode()
    people = [operated() for _ in range(4)]
    assert client.post(address)["Content-Type"] == "application/zip"
    decides(people[0], "sharing", "opted_out")
    other = reverse("research-one", args=[opened(quinn, name="Another").pk])
    answer = client.post(other)
    assert answer.status_code == 200
    page = answer.content.decode()
    assert 'type="checkbox" name="in_spite"' in page
    assert client.post(other, {"in_spite": "on"})["Content-Type"] == "application/zip"


def test_a_project_is_closed_with_a_reason(client: Client, quinn: Person) -> None:
    project = opened(quinn)
    address = reverse("research-close", args=[project.pk])
    assert client.post(address, {"because": ""}).status_code == 400
    assert client.post(address, {"because": "the paper is out"}).status_code == 302
    page = client.get(reverse("research-one", args=[project.pk])).content.decode()
    assert "the paper is out" in page
    assert "Take an extract" not in page
    assert client.post(address, {"because": "again"}).status_code == 400


def test_no_page_shows_the_key_to_anybody(client: Client) -> None:
    everything = builders.person("everything", north=world.ALL_ROLES)
    project = opened(everything)
    key, kept = research.plan_of(project).key.hex(), project.key.kept
    client.force_login(everything)
    for name, of in (("research", []), ("research-one", [project.pk])):
        page = client.get(reverse(name, args=of)).content.decode()
        assert key not in page
        assert kept not in page
