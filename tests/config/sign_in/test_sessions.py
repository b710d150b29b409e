"""A session ends when nobody uses it and when it is too old; it is a new one at each sign-in."""

from datetime import timedelta
from typing import Any

import pytest
from allauth.usersessions.models import UserSession
from django.test import Client
from django.urls import reverse

from registry.models import Person, SignInEvent
from tests import builders

pytestmark = pytest.mark.django_db
PASSWORD = "gravel kettle lantern"


@pytest.fixture(autouse=True)
def clock(time_machine: Any) -> Any:
    time_machine.move_to(builders.NOW, tick=False)
    return time_machine


@pytest.fixture
def selma() -> Person:
    person = builders.person("selma", north="surgeon")
    person.set_password(PASSWORD)
    person.save()
    return person


def browser() -> Client:
    client = Client(HTTP_USER_AGENT="Mozilla/5.0 (X11; Linux) Firefox/140.0")
    client.post(reverse("account_login"), {"login": "selma", "password": PASSWORD})
    return client


def is_in(client: Client, **sent: Any) -> bool:
    return client.get(reverse("clinic"), **sent).status_code == 200


@pytest.mark.usefixtures("selma")
def test_a_session_that_is_used_goes_on_and_ends_by_its_age(clock: Any) -> None:
    client = browser()
    for _ in range(30):
        assert is_in(client)
        clock.shift(timedelta(minutes=20))
    assert is_in(client)
    clock.shift(timedelta(minutes=20))
    assert not is_in(client)


def test_a_session_that_nobody_uses_ends_and_says_so(selma: Person, clock: Any) -> None:
    client = browser()
    clock.shift(timedelta(minutes=30))
    assert is_in(client)
    clock.shift(timedelta(minutes=31))
    page = client.get(reverse("clinic"), follow=True).content.decode()
    assert "unused for 31 minutes" in page
    assert not UserSession.objects.exists()
    event = SignInEvent.objects.get(kind="idle")
    assert (event.person, event.detail) == (selma, "unused for 31 minutes")


@pytest.mark.usefixtures("selma")
def test_what_a_page_asks_by_itself_keeps_no_session_alive(clock: Any) -> None:
    client = browser()
    for _ in range(4):
        clock.shift(timedelta(minutes=10))
        alive = is_in(client, headers={"X-Unattended": "yes"})
    assert not alive


@pytest.mark.usefixtures("selma")
def test_the_time_is_a_setting(settings: Any, clock: Any) -> None:
    settings.IDLE_SECONDS = 300
    client = browser()
    clock.shift(timedelta(minutes=6))
    assert not is_in(client)


@pytest.mark.usefixtures("selma")
def test_signing_in_begins_a_session_with_a_new_key() -> None:
    client = Client()
    client.get(reverse("account_login"))
    session = client.session
    session["planted"] = "yes"
    session.save()
    client.cookies["sessionid"] = planted = str(session.session_key)
    client.post(reverse("account_login"), {"login": "selma", "password": PASSWORD})
    assert client.session.session_key != planted
    assert not Client(headers={"Cookie": f"sessionid={planted}"}).session.get("_auth_user_id")


@pytest.mark.usefixtures("selma")
def test_within_a_minute_nothing_is_written(clock: Any, counted: Any) -> None:
    client = browser()
    is_in(client)
    clock.shift(timedelta(seconds=59))
    with counted() as queries:
        is_in(client)
    assert not [one for one in queries if "usersessions" in one["sql"]]
    clock.shift(timedelta(seconds=1))
    with counted() as queries:
        is_in(client)
    assert [one for one in queries if "usersessions" in one["sql"]]


def test_going_is_written_down(selma: Person) -> None:
    client = browser()
    client.post(reverse("account_logout"))
    assert SignInEvent.objects.get(kind="out").person == selma
