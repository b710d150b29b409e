"""The page that describes the interface, and a person's tokens on it."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from registry.api import description
from registry.models import Person, SignInEvent
from tests import builders
from tests.api import Program

pytestmark = pytest.mark.django_db


def test_the_page_lists_every_operation_without_a_script(
    client: Client, coordinator: Person
) -> None:
    client.force_login(coordinator)
    page = client.get(reverse("interface")).content.decode()
    for path in description.description()["paths"]:
        assert f"<code>{path}</code>" in page
    assert "<script>" not in page


def test_the_page_is_for_those_who_may_use_the_interface(
    client: Client, administrator: Person
) -> None:
    assert client.get(reverse("interface")).status_code == 302
    client.force_login(administrator)
    assert client.get(reverse("interface")).status_code == 403


def test_a_token_is_shown_once_signs_in_and_is_revoked(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    made = client.post(reverse("token-make"), {"days": "30"})
    token = re.findall(r'value="([0-9a-f]{64})"', made.content.decode())[0]
    assert made["Cache-Control"] == "no-store"
    program = Program()
    program.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert program.get("/api/v1/patients/").status_code == 200
    page = client.get(reverse("interface")).content.decode()
    assert token not in page
    assert token[:8] in page
    client.post(reverse("token-revoke", args=[token[:8]]))
    assert program.get("/api/v1/patients/").status_code == 401


def test_nobody_revokes_anothers_token(
    client: Client, coordinator: Person, surgeon: Person
) -> None:
    client.force_login(surgeon)
    made = client.post(reverse("token-make"), {"days": "1"}).content.decode()
    token = re.findall(r'value="([0-9a-f]{64})"', made)[0]
    client.force_login(coordinator)
    assert client.post(reverse("token-revoke", args=[token[:8]])).status_code == 404


def test_a_lifetime_that_is_not_offered_is_refused(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    page = client.post(reverse("token-make"), {"days": "9999"}, follow=True).content.decode()
    assert "A token lasts a day, 30 days" in page
    assert "You have none" in page


def test_a_new_token_reads_unless_one_says_otherwise_and_the_page_tells(
    client: Client, coordinator: Person
) -> None:
    client.force_login(coordinator)
    for may in ("", "write"):
        made = client.post(reverse("token-make"), {"days": "30", "may": may}).content.decode()
        token = re.findall(r'value="([0-9a-f]{64})"', made)[0]
        program = Program()
        program.credentials(HTTP_AUTHORIZATION=f"Token {token}")
        assert program.get("/api/v1/patients/").status_code == 200
        answer = program.post("/api/v1/patients/", {})
        assert answer.status_code == (400 if may else 403)
    page = client.get(reverse("interface")).content.decode()
    assert page.count("<td>read and write</td>") == page.count("<td>read</td>") == 1
    assert '<span class="missing">never</span>' not in page
    kinds = SignInEvent.objects.filter(person=coordinator, kind="token").values_list(
        "detail", flat=True
    )
    assert sorted(detail.split(", ")[1] for detail in kinds) == ["reads", "reads and writes"]


def test_a_token_of_another_site_is_not_made(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    sent = {"days": "30", "sites": [str(builders.site("south").pk)]}
    page = client.post(reverse("token-make"), sent, follow=True).content.decode()
    assert "Choose among your own sites" in page
    assert "You have none" in page
