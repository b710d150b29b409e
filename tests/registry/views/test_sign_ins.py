"""The page of what happened at the door."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person, SignInEvent
from registry.models.sign_ins import SignInEventKind
from registry.services.sign_ins import Where, write_down
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
PAGE = reverse("setup-sign-ins")


def many(person: Person, times: int) -> None:
    came = Where("192.0.2.7", "Mozilla/5.0 (Windows NT 10.0) Firefox/140.0")
    for number in range(times):
        at = NOW + timedelta(seconds=number)
        write_down(SignInEventKind.IN, person=person, now=at, where=came)


def test_each_event_says_who_what_and_from_where(client: Client, administrator: Person) -> None:
    selma = builders.person("selma", north="surgeon")
    many(selma, 1)
    write_down(SignInEventKind.FAILED, person=None, now=NOW)
    write_down(SignInEventKind.ENDED, person=selma, by=administrator, now=NOW, detail="2 sessions")
    client.force_login(administrator)
    page = client.get(PAGE).content.decode()
    assert "Firefox on Windows, 192.0.2.7" in page
    assert "nobody of that name" in page
    assert "Ended a session: 2 sessions, done by Ada" in page


def test_one_kind_is_shown_alone_and_a_strange_one_is_everything(
    client: Client, administrator: Person
) -> None:
    many(builders.person("selma", north="surgeon"), 1)
    write_down(SignInEventKind.FAILED, person=None, now=NOW)
    client.force_login(administrator)
    alone = client.get(f"{PAGE}?kind=failed").content.decode()
    assert "nobody of that name" in alone
    assert "192.0.2.7" not in alone
    assert "192.0.2.7" in client.get(f"{PAGE}?kind=x").content.decode()


def test_it_is_paged_and_costs_the_same_however_many_there_are(
    client: Client, administrator: Person, counted: Callable[[], Any]
) -> None:
    selma = builders.person("selma", north="surgeon")
    many(selma, 10)
    client.force_login(administrator)
    client.get(PAGE)
    costs = []
    for more in (0, 200):
        many(selma, more)
        with counted() as queries:
            page = client.get(PAGE).content.decode()
        costs.append(len(queries))
    assert costs[0] == costs[1]
    assert page.count("192.0.2.7") == 50
    assert "Page 1 of 5" in page
    assert SignInEvent.objects.count() == 210
