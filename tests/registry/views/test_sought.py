"""Nobody's name stands in an address: what is looked for is sent, and waits in the session."""

import re
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from registry.views.sought import MOST_KEPT
from tests import builders
from tests.looked import looked_for

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[3]
# Implants are looked for by words of their labels, which are nobody's.
BY_ADDRESS = {"setup_implants.html", "setup_implant_join.html"}


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def test_a_name_is_found_and_is_in_no_address(here: Client) -> None:
    builders.patient(family_name="Quill")
    answer = looked_for(here, "quill")
    assert "Quill" in answer.content.decode()
    assert answer.request["QUERY_STRING"].startswith("found=")
    assert "quill" not in str(answer.redirect_chain).lower()
    for page in range(60):
        builders.patient(family_name=f"Quill {page}")
    paged = looked_for(here, "quill")
    (following,) = re.findall(r'rel="next" href="([^"]+)"', paged.content.decode())
    assert "quill" not in following.lower()
    second = here.get(reverse("patients") + following.replace("&amp;", "&")).content.decode()
    assert "Page 2 of 2" in second


def test_the_address_shows_the_same_again_and_nothing_to_another(
    here: Client, surgeon: Person
) -> None:
    builders.patient(family_name="Quill")
    builders.patient(family_name="Other")
    first = looked_for(here, "quill")
    address = f"{first.request['PATH_INFO']}?{first.request['QUERY_STRING']}"
    assert "Other" not in here.get(address).content.decode()
    assert looked_for(here, "quill").request["QUERY_STRING"] == first.request["QUERY_STRING"]
    other = Client()
    other.force_login(surgeon)
    assert "Type it once more" in other.get(address).content.decode()


def test_what_stands_in_an_address_is_not_looked_for(here: Client) -> None:
    builders.patient(family_name="Quill")
    assert "Quill" in here.get(reverse("patients"), {"q": "nobody"}).content.decode()


def test_the_oldest_is_forgotten_and_nothing_typed_looks_for_nothing(here: Client) -> None:
    first = looked_for(here, "the first").request["QUERY_STRING"]
    for number in range(MOST_KEPT):
        looked_for(here, f"word {number}")
    assert len(here.session["sought"]) == MOST_KEPT
    assert "Type it once more" in here.get(f"/patients/?{first}").content.decode()
    assert looked_for(here, "  ").request["QUERY_STRING"] == ""


@pytest.mark.parametrize(
    "page",
    ["https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example/", "", "/none/"],
)
def test_it_leads_to_our_own_pages_alone(here: Client, page: str) -> None:
    answer = here.post(reverse("find"), {"q": "x", "page": page})
    assert answer.headers["Location"].startswith(f"{reverse('patients')}?found=")


def test_every_form_that_looks_for_somebody_is_sent_and_not_asked() -> None:
    found = set()
    for room in ("config", "registry", "followup", "analytics"):
        for file in (ROOT / room).rglob("*.html"):
            for form in re.findall(r"<form.*?</form>", file.read_text(), re.DOTALL):
                if 'name="q"' in form and '{% url \'find\' %}" method="post"' not in form:
                    found.add(file.name)
    assert found == BY_ADDRESS
