"""The page about one's own sign-in: where one is signed in, and ending that."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from registry.services import tokens
from tests import builders
from tests.api import Program

pytestmark = pytest.mark.django_db
AGENT = "Mozilla/5.0 (Windows NT 10.0) Firefox/140.0"


@pytest.fixture
def selma() -> Person:
    return builders.person("selma", north="surgeon")


def browser(person: Person, address: str) -> Client:
    client = Client(REMOTE_ADDR=address, HTTP_USER_AGENT=AGENT)
    person.set_password("gravel kettle lantern")
    Person.objects.filter(pk=person.pk).update(password=person.password)
    sent = {"login": person.username, "password": "gravel kettle lantern"}
    client.post(reverse("account_login"), sent)
    return client


@pytest.fixture
def two(selma: Person) -> tuple[Client, Client]:
    """Two browsers of one person; the password is set once, or the first would be out."""
    here = browser(selma, "192.0.2.1")
    there = Client(REMOTE_ADDR="192.0.2.2", HTTP_USER_AGENT=AGENT)
    sent = {"login": "selma", "password": "gravel kettle lantern"}
    there.post(reverse("account_login"), sent)
    return here, there


def numbers(page: str) -> dict[str, str]:
    """Return the number of each session by its address."""
    rows = re.findall(r"<tr>.*?</tr>", page, re.S)
    found = {}
    for row in rows:
        number = re.search(r'name="session" value="(\d+)"', row)
        address = re.search(r"192\.0\.2\.\d", row)
        if number and address:
            found[address[0]] = number[1]
    return found


def test_each_browser_is_listed_in_words(two: tuple[Client, Client]) -> None:
    page = two[0].get(reverse("account")).content.decode()
    assert page.count("Firefox on Windows") >= 2
    assert page.count("this one") == 1
    assert set(numbers(page)) == {"192.0.2.1", "192.0.2.2"}


def test_one_is_ended_and_is_out_at_its_next_request(two: tuple[Client, Client]) -> None:
    here, there = two
    number = numbers(here.get(reverse("account")).content.decode())["192.0.2.2"]
    here.post(reverse("session-end"), {"session": number})
    assert there.get(reverse("clinic")).headers["Location"].startswith(reverse("account_login"))
    assert here.get(reverse("clinic")).status_code == 200


def test_all_others_are_ended(two: tuple[Client, Client]) -> None:
    here, there = two
    here.post(reverse("session-end"), {"session": "others"})
    assert there.get(reverse("clinic")).status_code == 302
    assert here.get(reverse("clinic")).status_code == 200


@pytest.mark.parametrize("sent", ["", "0", "-1", "x", "999999"])
def test_what_is_no_session_ends_nothing(two: tuple[Client, Client], sent: str) -> None:
    page = two[0].post(reverse("session-end"), {"session": sent}, follow=True).content.decode()
    assert "nothing to end" in page
    assert all(one.get(reverse("clinic")).status_code == 200 for one in two)


def test_an_administrator_ends_a_persons_sessions_and_tokens(
    two: tuple[Client, Client], selma: Person, administrator: Person
) -> None:
    program = Program()
    token = tokens.make_token(person=selma, days=1, now=builders.NOW)
    program.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    boss = Client()
    boss.force_login(administrator)
    page = boss.get(reverse("setup-person", args=[selma.pk])).content.decode()
    assert page.count("Firefox on Windows") == 2
    boss.post(reverse("setup-person-end", args=[selma.pk]))
    assert all(one.get(reverse("clinic")).status_code == 302 for one in two)
    assert program.get("/api/v1/patients/").status_code == 401


def test_whoever_may_not_sign_in_any_more_is_out_at_once(
    two: tuple[Client, Client], selma: Person, administrator: Person
) -> None:
    program = Program()
    token = tokens.make_token(person=selma, days=1, now=builders.NOW)
    program.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    boss = Client()
    boss.force_login(administrator)
    where = reverse("setup-person", args=[selma.pk])
    sent = {"shown_name": "Selma", "email": "", "password": ""}
    boss.post(where, {**sent, "version": "1"})
    assert all(one.get(reverse("clinic")).status_code == 302 for one in two)
    assert program.get("/api/v1/patients/").status_code == 401
    # Nor does an old session or token come to life again.
    boss.post(where, {**sent, "version": "2", "is_active": "on"})
    assert all(one.get(reverse("clinic")).status_code == 302 for one in two)
    assert program.get("/api/v1/patients/").status_code == 401


def test_an_administrator_of_one_site_alone_shuts_nobody_out_of_another(
    administrator: Person,
) -> None:
    both = builders.person("both", north="surgeon", south="surgeon")
    theirs = Client()
    theirs.force_login(both)
    boss = Client()
    boss.force_login(administrator)
    assert boss.post(reverse("setup-person-end", args=[both.pk])).status_code == 403
    assert theirs.get(reverse("clinic")).status_code == 200
