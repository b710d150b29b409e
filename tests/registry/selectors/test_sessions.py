"""Where somebody is signed in now."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone

from registry.models import Person
from registry.selectors.sessions import open_sessions
from tests import builders

pytestmark = pytest.mark.django_db


def signed_in(person: Person, times: int = 1) -> str:
    for _ in range(times):
        client = Client()
        client.force_login(person)
    return str(client.session.session_key)


def test_open_ones_are_listed_and_this_one_is_marked() -> None:
    selma = builders.person("selma")
    signed_in(builders.person("connie"))
    other, this = signed_in(selma), signed_in(selma)
    now = timezone.now()
    UserSession.objects.filter(session_key=other).update(last_seen_at=now - timedelta(minutes=5))
    found = open_sessions(selma, now=now, this=this)
    assert [one.is_this for one in found] == [True, False]
    Session.objects.filter(session_key=other).update(expire_date=now)
    assert [one.is_this for one in open_sessions(selma, now=now, this=this)] == [True]


def test_many_cost_no_more_than_few(counted: Callable[[], Any]) -> None:
    selma = builders.person("selma")
    signed_in(selma, 2)
    costs = []
    for more in (0, 20):
        signed_in(selma, more) if more else None
        with counted() as queries:
            open_sessions(selma, now=timezone.now())
        costs.append(len(queries))
    assert costs[0] == costs[1]
