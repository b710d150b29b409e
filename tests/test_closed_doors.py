"""Doors that stay shut: other methods, people whose roles are not or no longer, and numbers that were guessed."""

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Membership, Person
from registry.rules import roles
from tests import builders
from tests import scene as scenes
from tests.scene import ADDRESSES, Scene, rows, said
from tests.test_access import DOORS, SHARED, urls
from tests.test_api_access import RESOURCES
from tests.test_api_access import SHARED as SHARED_BY_ALL
from tests.test_api_access import url as url_of_resource

pytestmark = pytest.mark.django_db
NO_NUMBER, NO_WORD = 987_654_321, "nobody-s"
OTHERS = ("put", "patch", "delete", "options", "trace")


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    yield from scenes.build(django_db_blocker)


@pytest.fixture(autouse=True)
def nobody_has_asked_too_often() -> None:
    cache.clear()


def everything(scene: Scene, site: str) -> Client:
    """Return somebody with every role at one site."""
    client = Client()
    client.force_login(Person.objects.get(username=f"{site}_everything"))
    return client


def test_no_page_takes_a_method_that_it_was_not_made_for(scene: Scene) -> None:
    client, before, wrong = everything(scene, "north"), rows(), []
    for name, door in DOORS.items():
        for address in urls(scene, name, "north"):
            for method in OTHERS + (() if door.opens else ("get",)):
                got = getattr(client, method)(address)
                if got.status_code != 405:
                    wrong.append(f"{method} {address} answers {got.status_code}")
    assert not wrong, "\n".join(wrong)
    assert rows() == before


@pytest.mark.parametrize("begins", [-400, 1], ids=["ended yesterday", "begins tomorrow"])
def test_roles_that_are_over_or_have_not_begun_open_nothing(scene: Scene, begins: int) -> None:
    person = builders.person(f"not_now_{begins}")
    day = builders.TODAY
    for role in roles.ROLES:
        Membership.objects.create(
            person=person,
            site=builders.site("north"),
            role=role,
            starts_on=day + timedelta(days=begins),
            ends_on=day - timedelta(days=1) if begins < 0 else None,
        )
    client, wrong = Client(), []
    client.force_login(person)
    shut = [(address, {403}) for name in DOORS for address in urls(scene, name, "north")]
    shut += [(url_of_resource(scene, name, "north"), {403}) for name in RESOURCES]
    for address, due in shut:
        for got in (client.get(address), client.post(address, {})):
            if got.status_code not in due | {405}:
                wrong.append(f"{address} answers {got.status_code}")
            if any(mark in said(got) for mark in scene.marks["north"]):
                wrong.append(f"{address} names a patient")
    assert not wrong, "\n".join(wrong)


def test_whoever_was_deactivated_is_let_in_nowhere(scene: Scene) -> None:
    person = Person.objects.get(username="all_roles_here_reader_there")
    client = Client()
    client.force_login(person)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    for name in DOORS:
        for address in urls(scene, name, "north"):
            got = client.get(address)
            assert got.status_code == 302, address
            assert got.headers["Location"].startswith(reverse("account_login"))
    for name in RESOURCES:
        assert client.get(url_of_resource(scene, name, "north")).status_code == 401


def bare(answer: Any, *addresses: str) -> tuple[int, str, str]:
    """Return what an answer tells, apart from the address that was asked for and one-time tokens."""
    text = said(answer)
    for address in addresses:
        text = text.replace(address, "")
    text = re.sub(r'(csrf[^>]*value|nonce)="[^"]*"', "", text)
    return answer.status_code, answer.headers.get("ETag", ""), re.sub(r"[0-9a-f]{32,}", "", text)


def absent(name: str, given: dict[str, Any]) -> dict[str, Any]:
    """Return the arguments of an address with numbers and words that nothing has."""
    return {
        part: value
        if part in SHARED or (isinstance(value, str) and part not in {"key", "token", "secret"})
        else (NO_NUMBER if isinstance(value, int) else NO_WORD)
        for part, value in given.items()
    }


@pytest.mark.parametrize("method", ["get", "post"])
def test_what_is_of_another_site_looks_like_what_is_nowhere(scene: Scene, method: str) -> None:
    client, wrong, walked = everything(scene, "north"), [], 0
    for name, door in DOORS.items():
        if not (door.opens if method == "get" else door.sends) or door.query:
            continue
        for names in door.of:
            theirs = {p: scene.value("south", names.get(p, p)) for p in ADDRESSES[name]}
            nothing = absent(name, theirs)
            if theirs == nothing:
                continue
            one, other = reverse(name, kwargs=theirs), reverse(name, kwargs=nothing)
            answers = [bare(getattr(client, method)(a), one, other) for a in (one, other)]
            walked += 1
            if answers[0] != answers[1] or answers[0][0] != 404:
                wrong.append(f"{method} {one}: {answers[0][0]}, {other}: {answers[1][0]}")
    assert not wrong, "\n".join(wrong)
    assert walked > 40


def test_a_foreign_row_of_the_interface_looks_like_none(scene: Scene) -> None:
    client, wrong = everything(scene, "north"), []
    for name, resource in RESOURCES.items():
        if not ADDRESSES[name] or name in SHARED_BY_ALL:
            continue
        of = resource.of
        theirs = {p: scene.value("south", of.get(p, p)) for p in ADDRESSES[name]}
        nothing = absent(name, theirs)
        one, other = reverse(name, kwargs=theirs), reverse(name, kwargs=nothing)
        for method in resource.needs:
            sent: dict[str, Any] = {}
            if method != "get":
                sent = {"data": {}, "content_type": "application/json"}
            answers = [
                bare(getattr(client, method)(a, headers={"If-Match": '"1"'}, **sent), one, other)
                for a in (one, other)
            ]
            if answers[0] != answers[1] or answers[0][0] not in (403, 404):
                wrong.append(f"{method} {one}: {answers}")
    assert not wrong, "\n".join(wrong)
