"""Two sites with one of each thing, everybody who comes to the door, and what they may get."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import time_machine
from django.apps import apps
from django.db import connection, transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from registry.models import Membership
from registry.rules import roles
from tests import builders, world

# Who comes to the door: their roles by site.
VISITORS: dict[str, dict[str, str]] = {
    **{role: {"north": role} for role in roles.ROLES},
    "all roles here, reader there": {"north": world.ALL_ROLES, "south": "film_reader"},
    "all roles there": {"south": world.ALL_ROLES},
    "all roles until yesterday": {},
    "no membership": {},
}


def addresses(resolver: URLResolver | None = None, space: str = "") -> Iterator[tuple[str, Any]]:
    """Yield the name of every address of the service, and the names of its arguments."""
    inside = resolver or get_resolver()
    outer = set(inside.pattern.converters) if resolver else set()
    for entry in inside.url_patterns:
        if isinstance(entry, URLResolver):
            deeper = f"{space}{entry.namespace}:" if entry.namespace else space
            for name, arguments in addresses(entry, deeper):
                yield name, arguments | outer
        elif isinstance(entry, URLPattern):
            given = set(entry.pattern.converters) | set(entry.pattern.regex.groupindex)
            yield f"{space}{entry.name or entry.pattern}", frozenset(given | outer)


ADDRESSES = dict(addresses())


def for_programs(name: str) -> bool:
    """Say whether an address is one of the interfaces for programs."""
    return name.startswith(("v1:", "api-")) or for_fhir(name)


def for_fhir(name: str) -> bool:
    """Say whether an address is one of the interface that speaks FHIR."""
    return name.startswith("fhir:")


@dataclass(frozen=True)
class Scene:
    """The two sites with one of each thing, and everybody who comes to the door."""

    things: dict[str, dict[str, Any]]
    clients: dict[str, Client]
    marks: dict[str, set[str]]
    keys: dict[str, set[str]]

    def value(self, site: str, word: str) -> Any:
        """Return what a site calls a thing; a word that begins with '=' stands for itself."""
        return word[1:] if word.startswith("=") else self.things[site][word]


def build(blocker: Any) -> Iterator[Scene]:
    """Build everything once for a module; each test runs inside and takes back what it changes.

    The clock stands, or a slow module would outlive its sessions.
    """
    with blocker.unblock(), time_machine.travel(builders.NOW, tick=False), transaction.atomic():
        builders.load_defaults()
        things = {code: world.one_of_each(code) for code in ("north", "south")}
        marks = {code: world.marks_of(builders.site(code)) for code in things}
        keys = {code: world.keys_of(builders.site(code)) for code in things}
        # Links are checked when a test ends; those of the scene itself once, here.
        connection.check_constraints()
        yield Scene(things, {name: _client(name) for name in VISITORS}, marks, keys)
        transaction.set_rollback(True)


def _client(name: str) -> Client:
    person = builders.person(name.replace(" ", "_").replace(",", ""), **VISITORS[name])
    if name == "all roles until yesterday":
        for role in roles.ROLES:
            Membership.objects.create(
                person=person,
                site=builders.site("north"),
                role=role,
                starts_on=builders.TODAY - timedelta(days=400),
                ends_on=builders.TODAY - timedelta(days=1),
            )
    client = Client()
    client.force_login(person)
    return client


def expected(visitor: str, action: str, site: str, answer: int, *, of_a_site: bool) -> int:
    """Return what a visitor gets for an action: what is not theirs is as if it were not there."""
    held = {code: names.split("+") for code, names in VISITORS[visitor].items()}
    if not action:
        return 405
    if not any(roles.allowed(names, action) for names in held.values()):
        return 403
    if of_a_site and not roles.allowed(held.get(site, ()), action):
        return 404
    return answer


def betrayed(scene: Scene, visitor: str, answer: Any, address: str) -> str:
    """Name what an answer says of the patients of a site where the visitor sees none; '' if nothing.

    What stands in the address itself was known to whoever asked.
    """
    foreign = "north" if "north" not in VISITORS[visitor] and VISITORS[visitor] else "south"
    marks = scene.marks[foreign]
    if roles.allowed(VISITORS[visitor].get(foreign, "").split("+"), "read_film"):
        # Who reads films there knows its patients by their keys, and by nothing else.
        marks = marks - {scene.things[foreign][name] for name in ("key", "other_key")}
    text = said(answer).replace(address, "")
    found = sorted(mark for mark in marks if mark in text)
    return f"{visitor}: {address} says {found}" if found else ""


def said(answer: Any) -> str:
    return (b"".join(answer) if answer.streaming else answer.content).decode(errors="replace")


@contextmanager
def taken_back() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def rows() -> dict[str, list[Any]]:
    """Return every row that the service keeps, sessions and times of sign-in apart."""
    return {
        model._meta.label: [
            {name: value for name, value in row.items() if name != "last_login"}
            for row in model._base_manager.order_by("pk").values()
        ]
        for model in apps.get_models()
        if model._meta.label not in ("sessions.Session", "usersessions.UserSession")
    }
