"""Those who still have to do something about their sign-in reach nothing else until it is done."""

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests import builders

pytestmark = pytest.mark.django_db
GIVEN, OWN = "gravel kettle lantern", "plum saddle window"


@pytest.fixture
def newcomer() -> Client:
    """Somebody whose first password an administrator chose."""
    person = builders.person("selma", north="surgeon+coordinator")
    person.set_password(GIVEN)
    person.must_change_password = True
    person.save()
    client = Client()
    client.post(reverse("account_login"), {"login": "selma", "password": GIVEN})
    return client


@pytest.mark.parametrize("name", ["home", "clinic", "due", "patients", "interface", "meetings-own"])
def test_a_given_password_is_changed_before_anything_else(newcomer: Client, name: str) -> None:
    assert newcomer.get(reverse(name)).headers["Location"] == reverse("account_change_password")


def test_nothing_is_sent_past_the_gate(newcomer: Client) -> None:
    for name in ("token-make", "enrol"):
        answer = newcomer.post(reverse(name), {"days": "30"})
        assert answer.headers["Location"] == reverse("account_change_password")


@pytest.mark.parametrize(
    ("address", "kind"),
    [
        ("/api/v1/patients/", "application/problem+json"),
        ("/fhir/r4/Patient", "application/fhir+json"),
    ],
)
def test_the_interfaces_refuse_in_their_own_way(newcomer: Client, address: str, kind: str) -> None:
    answer = newcomer.get(address)
    assert answer.status_code == 403
    assert answer.headers["Content-Type"].startswith(kind)


def test_the_page_says_why_and_offers_no_room(newcomer: Client) -> None:
    page = newcomer.get(reverse("account_change_password")).content.decode()
    assert "Somebody else chose the password" in page
    assert reverse("clinic") not in page


def test_who_has_changed_it_comes_in(newcomer: Client) -> None:
    sent = {"oldpassword": GIVEN, "password1": OWN, "password2": OWN}
    newcomer.post(reverse("account_change_password"), sent)
    assert not Person.objects.get(username="selma").must_change_password
    assert newcomer.get(reverse("clinic")).status_code == 200


def test_whoever_is_held_can_sign_out_and_what_is_for_all_stays_open(newcomer: Client) -> None:
    assert newcomer.get(reverse("health")).status_code in (200, 503)
    answer = newcomer.post(reverse("account_logout"))
    assert answer.headers["Location"] == reverse("account_login")
