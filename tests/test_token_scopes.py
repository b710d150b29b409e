"""A token's scope at every address for programs: one that reads writes nothing, one of a site sees no other."""

from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from rest_framework.test import APIClient

from followup.models import MotionExam
from registry.models import Person
from registry.services import tokens
from tests import builders, world
from tests import scene as scenes
from tests.builders import NOW
from tests.scene import ADDRESSES, Scene, rows, said, taken_back
from tests.test_api_access import METHODS, NOBODY, RESOURCES, SHARED, send, url
from tests.test_fhir_access import BASE, TYPES, address

pytestmark = pytest.mark.django_db
# A POST that writes nothing: a label is read.
READS = {"v1:api-label-list"}


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    for built in scenes.build(django_db_blocker):
        for things in built.things.values():
            exam = MotionExam.objects.get(pk=things["exam_id"])
            slots = exam.injury.procedures.get(pk=things["procedure_id"]).reviews
            things["appointment_id"] = slots.get(appointments__isnull=False).appointments.get().pk
        yield built


@pytest.fixture(autouse=True)
def nobody_has_asked_too_often() -> None:
    cache.clear()


def program(scope: tokens.Scope) -> Any:
    """Return a program of somebody with every role at both sites, with a token of a scope."""
    person = builders.person("everywhere", north=world.ALL_ROLES, south=world.ALL_ROLES)
    token = tokens.make_token(person=person, days=30, now=NOW, scope=scope)
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    return client


def reading() -> Any:
    return program(tokens.Scope(writes=False))


def of_north() -> Any:
    return program(tokens.Scope(sites=frozenset({builders.site("north").pk})))


@pytest.mark.parametrize("name", RESOURCES)
def test_a_token_that_reads_writes_nothing(scene: Scene, name: str) -> None:
    with taken_back():
        client = reading()
        before = rows()
        for site in scene.things:
            for method in METHODS[1:]:
                if name in READS and method == "post":
                    continue
                answer = send(client, method, url(scene, name, site))
                assert answer.status_code == 403, f"{method} {name}: {answer.status_code}"
                assert "only reads" in said(answer)
        now = rows()
        for label in ("registry.TokenScope", "knox.AuthToken"):
            before.pop(label), now.pop(label)
        assert now == before


@pytest.mark.parametrize("name", [name for name, one in RESOURCES.items() if "get" in one.needs])
def test_a_token_that_reads_reads_and_one_of_a_site_sees_no_other(scene: Scene, name: str) -> None:
    if RESOURCES[name].needs["get"] == NOBODY:
        return
    with taken_back():
        everywhere, north = reading(), of_north()
        foreign = scene.marks["south"] | scene.keys["south"]
        of_a_site = bool(ADDRESSES[name]) and name not in SHARED
        for site in scene.things:
            where = url(scene, name, site)
            assert everywhere.get(where).status_code == 200, where
            got = north.get(where)
            assert got.status_code == (404 if of_a_site and site == "south" else 200), where
            text = said(got).replace(where, "")
            assert not [mark for mark in foreign if mark in text], where


@pytest.mark.parametrize("name", [n for n, one in RESOURCES.items() if set(one.needs) - {"get"}])
def test_a_token_of_a_site_writes_at_no_other(scene: Scene, name: str) -> None:
    if not ADDRESSES[name] or name in SHARED:
        return
    with taken_back():
        client = of_north()
        for method in set(RESOURCES[name].needs) - {"get"}:
            answer = send(client, method, url(scene, name, "south"))
            assert answer.status_code in (403, 404), f"{method} {name}: {answer.status_code}"


@pytest.mark.parametrize("kind", TYPES)
def test_fhir_holds_the_scope_as_well(scene: Scene, kind: str) -> None:
    with taken_back():
        everywhere, north = reading(), of_north()
        foreign = scene.marks["south"] | {scene.things["south"]["key"]}
        for site in scene.things:
            where = address(scene, kind, site)
            assert everywhere.get(where).status_code == 200, where
            assert north.get(where).status_code == (404 if site == "south" else 200), where
        listed = said(north.get(f"{BASE}/{kind}"))
        assert not [mark for mark in foreign if mark in listed]
        form = "application/x-www-form-urlencoded"
        found = everywhere.post(f"{BASE}/{kind}/_search", "", content_type=form)
        assert found.status_code == 200


def test_fhir_takes_in_nothing_by_a_token_that_reads(scene: Scene) -> None:
    with taken_back():
        client = reading()
        answer = client.post(f"{BASE}/", {"resourceType": "Bundle"}, format="json")
        assert answer.status_code == 403
        assert "only reads" in said(answer)
        for method in ("post", "put", "patch", "delete"):
            got = getattr(client, method)(f"{BASE}/Patient/x", {}, format="json")
            assert got.status_code == 403


def test_a_token_of_a_site_asks_for_no_copy_of_everything(scene: Scene) -> None:
    with taken_back():
        asked = of_north().get(f"{BASE}/$export", headers={"Prefer": "respond-async"})
        assert asked.status_code == 403
        assert "some alone" in said(asked)
        whole = program(tokens.Scope(writes=False))
        assert whole.get(f"{BASE}/$export", headers={"Prefer": "respond-async"}).status_code == 202


def test_a_token_never_does_more_than_its_person(scene: Scene) -> None:
    with taken_back():
        selma = builders.person("selma_of_tokens", north="film_reader")
        token = tokens.make_token(person=selma, days=1, now=NOW, scope=tokens.Scope(writes=True))
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
        assert client.get("/api/v1/patients/").status_code == 403
        assert client.get("/api/v1/films/").status_code == 200
        Person.objects.filter(pk=selma.pk).update(is_active=False)
        assert client.get("/api/v1/films/").status_code == 401


def test_while_a_password_has_to_be_chosen_no_token_is_taken() -> None:
    selma = builders.person("selma", north="surgeon")
    token = tokens.make_token(person=selma, days=30, now=NOW)
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert client.get("/api/v1/patients/").status_code == 200
    Person.objects.filter(pk=selma.pk).update(must_change_password=True)
    answer = client.get("/api/v1/patients/")
    assert answer.status_code == 403
    assert "choose your own first" in answer.json()["detail"]
    assert client.get("/fhir/r4/Patient").status_code == 403
