from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person, RetentionRule
from registry.services import retention
from tests import builders
from tests.builders import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]


@pytest.fixture
def ada(client: Client, time_machine: Any) -> Person:
    time_machine.move_to(NOW)
    person = builders.person("ada", north="administrator")
    client.force_login(person)
    return person


def address(kind: str = "patients") -> str:
    return reverse("setup-retention-rule", args=[builders.site("north").pk, kind])


def test_a_rule_is_set_and_stands_on_the_page_with_its_law(client: Client, ada: Person) -> None:
    page = client.get(reverse("setup-retention")).content.decode()
    assert "no rule of the site" in page
    assert "No legal period is built in" in page
    sent = {"version": 0, "keep": 10, "least": 8, "basis": "Policy 7 of our site"}
    assert client.post(address(), sent).status_code == 302
    page = client.get(reverse("setup-retention")).content.decode()
    assert "Policy 7 of our site" in page
    assert "10 years" in page
    assert client.post(address(), sent).status_code == 409


@pytest.mark.parametrize(
    ("other", "said"),
    [
        ({"keep": 7}, "would be too short"),
        ({"basis": ""}, "Name the law or policy"),
        ({"keep": 500}, "from 1 to 150 years"),
    ],
)
def test_what_cannot_be_is_said_by_the_field(
    client: Client, ada: Person, other: dict[str, Any], said: str
) -> None:
    sent = {"version": 0, "keep": 10, "least": 8, "basis": "Policy 7", **other}
    assert said in client.post(address(), sent).content.decode()
    assert not RetentionRule.objects.exists()


def test_a_kind_that_is_none_is_not_there(client: Client, ada: Person) -> None:
    assert client.get(address("films")).status_code == 404


def test_what_was_destroyed_is_listed(client: Client, ada: Person) -> None:
    retention.prove(
        kind="uploads", number=4, words="older than 7 days", site=builders.site("north"), now=NOW
    )
    page = client.get(reverse("setup-retention")).content.decode()
    assert "older than 7 days" in page
    assert "the service itself" in page
