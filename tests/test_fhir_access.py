"""Every address that speaks FHIR, by everybody, with own and foreign rows.

What test_access.py says of the pages holds here. The table says of each type which rights open it and
which resource of `world` stands for it; who sees only films is told of nobody's facts.
"""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client

from followup.exchange.fhir.kinds import KINDS
from followup.models import MotionExam, Score
from followup.services import bulk_exports
from registry.models import Person
from registry.rules import roles
from tests import builders
from tests import scene as scenes
from tests.fhir_bodies import transaction
from tests.scene import ADDRESSES, VISITORS, Scene, betrayed, rows, said, taken_back

pytestmark = pytest.mark.django_db
BASE = "/fhir/r4"
# What of `world` is one resource of each type: its id, with a '{}' for the number there.
ONE_OF: dict[str, tuple[str, str]] = {
    "Patient": ("{}", "key"),
    "Condition": ("{}", "injury_id"),
    "Procedure": ("{}", "procedure_id"),
    "Device": ("{}", "part_id"),
    "DeviceUseStatement": ("{}", "part_id"),
    "ImagingStudy": ("{}", "film_id"),
    "Observation": ("motion-flexion-{}", "exam_id"),
    "QuestionnaireResponse": ("invitation-{}", "invitation_id"),
    "AdverseEvent": ("{}", "complication_id"),
    "Appointment": ("{}", "appointment_id"),
    "Task": ("{}", "task_id"),
    "CarePlan": ("{}", "procedure_id"),
}
SEES = {"see_patient", "take_data"}
PERSONAL = {"Appointment", "Task"}
FILMS = {"ImagingStudy", "Observation"}
TYPES = sorted(ONE_OF)
# Every name of an address with the test below that walks it.
WALKED = {
    *("fhir:metadata", "fhir:search", "fhir:search-form", "fhir:read", "fhir:unknown"),
    *("fhir:export", "fhir:patient-export", "fhir:export-status", "fhir:export-file"),
    "fhir:transaction",
}
KICK_OFF = ("$export", "Patient/$export")


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


def held(visitor: str, site: str) -> set[str]:
    """Return what a visitor may do at a site."""
    names = VISITORS[visitor].get(site, "").split("+")
    return {action for action, who in roles.TABLE.items() if who & set(names)}


def opens(kind: str) -> set[str]:
    """Return the rights of which one opens a type."""
    if kind in PERSONAL:
        return {"see_patient"}
    return SEES | ({"see_films"} if kind in FILMS else set())


def sees(visitor: str, kind: str, site: str) -> bool:
    """Say whether a visitor sees the one resource of a type at a site."""
    rights = opens(kind) if kind == "ImagingStudy" else opens(kind) - {"see_films"}
    return bool(held(visitor, site) & rights)


def wanted(visitor: str, kind: str) -> int:
    """Return what a visitor gets for a search of a type."""
    everywhere = set().union(*(held(visitor, site) for site in ("north", "south")))
    return 200 if "use_api" in everywhere and everywhere & opens(kind) else 403


def address(scene: Scene, kind: str, site: str) -> str:
    pattern, word = ONE_OF[kind]
    return f"{BASE}/{kind}/{pattern.format(scene.things[site][word])}"


def test_every_address_is_walked_and_every_type_stands_in_the_table() -> None:
    assert {name for name in ADDRESSES if scenes.for_fhir(name)} == WALKED
    assert set(ONE_OF) == set(KINDS)
    for kind in KINDS.values():
        assert set(kind.sees) == opens(kind.name)


@pytest.mark.parametrize("kind", TYPES)
def test_one_resource_is_read_by_those_whose_roles_say_so(scene: Scene, kind: str) -> None:
    wrong = []
    for visitor, client in scene.clients.items():
        for site in scene.things:
            url = address(scene, kind, site)
            got = client.get(url)
            due = wanted(visitor, kind)
            due = 404 if due == 200 and not sees(visitor, kind, site) else due
            if got.status_code != due:
                wrong.append(f"{visitor}, {site}: {url} answers {got.status_code}, not {due}")
            wrong.append(betrayed(scene, visitor, got, url))
            if "see_identity" not in held(visitor, site):
                wrong += [f"{visitor}: {url} says {m}" for m in scene.marks[site] if m in said(got)]
    assert not any(wrong), "\n".join(filter(None, wrong))


@pytest.mark.parametrize("kind", TYPES)
def test_a_search_finds_own_rows_alone_and_names_where_names_are_seen(
    scene: Scene, kind: str
) -> None:
    wrong = []
    for visitor, client in scene.clients.items():
        due = wanted(visitor, kind)
        for query in ("", *(f"?patient={scene.things[s]['key']}" for s in scene.things)):
            url = f"{BASE}/{kind}{query if kind != 'Patient' else ''}"
            got = client.get(url)
            form = client.post(
                f"{BASE}/{kind}/_search",
                query.removeprefix("?"),
                content_type="application/x-www-form-urlencoded",
            )
            for answer in (got, form):
                if answer.status_code != due:
                    wrong.append(f"{visitor}: {url} answers {answer.status_code}, not {due}")
                wrong.append(betrayed(scene, visitor, answer, url))
            for site in scene.things:
                if "see_identity" not in held(visitor, site):
                    told = {m for m in scene.marks[site] if m in said(got)}
                    wrong += [f"{visitor}: {url} says {m}" for m in told]
    assert not any(wrong), "\n".join(filter(None, wrong))


@pytest.mark.parametrize("kind", TYPES)
def test_a_search_finds_the_one_resource_of_each_site_that_is_seen(scene: Scene, kind: str) -> None:
    for visitor, client in scene.clients.items():
        if wanted(visitor, kind) != 200:
            continue
        found = json.loads(said(client.get(f"{BASE}/{kind}?_count=200"))).get("entry", [])
        ids = {f"{BASE}/{kind}/{one['resource']['id']}" for one in found}
        for site in scene.things:
            assert (address(scene, kind, site) in ids) is sees(visitor, kind, site), visitor


def test_a_film_reader_sees_own_readings_and_nothing_else_of_observations(scene: Scene) -> None:
    client = scene.clients["film_reader"]
    assert json.loads(said(client.get(f"{BASE}/Observation")))["total"] == 0
    assert Score.objects.exists()


@pytest.mark.parametrize("kind", [*TYPES, "CodeSystem"])
def test_without_signing_in_nothing_is_read_or_written(scene: Scene, kind: str) -> None:
    before = rows()
    for method in ("get", "post", "put", "patch", "delete"):
        for url in (f"{BASE}/{kind}", f"{BASE}/{kind}/1", f"{BASE}/{kind}/_search"):
            answer = getattr(Client(), method)(url)
            assert answer.status_code == 401
            assert answer.headers["Content-Type"].startswith("application/fhir+json")
    assert rows() == before


@pytest.mark.parametrize("kind", TYPES)
def test_no_resource_is_changed_at_its_own_address(scene: Scene, kind: str) -> None:
    before = rows()
    for client in scene.clients.values():
        for method in ("post", "put", "patch", "delete"):
            url = address(scene, kind, "north")
            sent = getattr(client, method)(url, "{}", content_type="application/fhir+json")
            assert sent.status_code in (403, 405)
    assert rows() == before


@pytest.mark.parametrize("address", KICK_OFF)
def test_a_copy_is_asked_for_by_those_who_may_take_data(scene: Scene, address: str) -> None:
    headers = {"Prefer": "respond-async"}
    for visitor, client in scene.clients.items():
        may = any("take_data" in held(visitor, site) for site in scene.things)
        for sent in ({}, {"data": "{}", "content_type": "application/fhir+json"}):
            before = rows()
            with taken_back():
                call = client.post if sent else client.get
                answer = call(f"{BASE}/{address}", headers=headers, **sent)
            assert answer.status_code == (202 if may else 403), visitor
            assert rows() == before
    for method in ("get", "post", "delete"):
        answer = getattr(Client(), method)(f"{BASE}/{address}", headers=headers)
        assert answer.status_code == 401


def test_a_copy_is_told_of_to_nobody_but_whoever_asked(scene: Scene) -> None:
    asker = Person.objects.get(username="all_roles_there")
    export = bulk_exports.ask(
        types=["Patient"], since=None, request="x", by=asker, now=builders.NOW
    )
    urls = (f"$export-status/{export.uuid}", f"$export-file/{export.uuid}/Patient.ndjson")
    before = rows()
    for visitor, client in scene.clients.items():
        may = any("take_data" in held(visitor, site) for site in scene.things)
        for url in urls:
            due = {"all roles there": 202 if "status" in url else 404}.get(visitor, 404)
            assert client.get(f"{BASE}/{url}").status_code == (due if may else 403), visitor
            if visitor != "all roles there":
                assert client.delete(f"{BASE}/{url}").status_code in (403, 404, 405)
    for url in urls:
        assert Client().get(f"{BASE}/{url}").status_code == 401
        assert Client().delete(f"{BASE}/{url}").status_code == 401
    assert rows() == before


def test_a_transaction_is_sent_by_those_who_enrol(scene: Scene) -> None:
    for visitor, client in scene.clients.items():
        may = any("enrol" in held(visitor, site) for site in scene.things)
        before = rows()
        for sent in ({}, transaction(), transaction(patient={"name": None})):
            with taken_back():
                body = json.dumps(sent)
                answer = client.post(f"{BASE}/", body, content_type="application/fhir+json")
            due = {403} if not may else {200, 400} if sent else {400}
            assert answer.status_code in due, visitor
            assert not betrayed(scene, visitor, answer, BASE)
        assert rows() == before
        assert client.get(f"{BASE}/").status_code in (403, 405)
    answer = Client().post(f"{BASE}/", "{}", content_type="application/fhir+json")
    assert answer.status_code == 401


def test_a_transaction_cannot_hang_on_a_foreign_row(scene: Scene) -> None:
    before = rows()
    theirs = scene.things["south"]
    for kind, element, value in (
        ("condition", "subject", {"reference": f"Patient/{theirs['key']}"}),
        ("procedure", "reasonReference", [{"reference": f"Condition/{theirs['injury_id']}"}]),
        ("procedure", "partOf", [{"reference": f"Procedure/{theirs['procedure_id']}"}]),
    ):
        sent = transaction(**{kind: {element: value}})
        answer = scene.clients["surgeon"].post(
            f"{BASE}/", json.dumps(sent), content_type="application/fhir+json"
        )
        assert answer.status_code == 400
        assert not {mark for mark in scene.marks["south"] if mark in said(answer)}
    assert rows() == before


def test_what_the_server_can_do_names_nobody_and_is_for_all(scene: Scene) -> None:
    marks = scene.marks["north"] | scene.marks["south"]
    for client in (*scene.clients.values(), Client()):
        answer = client.get(f"{BASE}/metadata")
        assert answer.status_code == 200
        assert not {mark for mark in marks if mark in said(answer)}


def test_code_systems_are_for_all_who_use_the_interface(scene: Scene) -> None:
    for visitor, client in scene.clients.items():
        may = any("use_api" in held(visitor, site) for site in scene.things)
        assert client.get(f"{BASE}/CodeSystem").status_code == (200 if may else 403)
        assert client.get(f"{BASE}/nothing").status_code == 404
    assert Client().get(f"{BASE}/nothing").status_code == 401


def test_a_deactivated_person_is_not_let_in(scene: Scene) -> None:
    client = Client()
    person = Person.objects.get(username="surgeon")
    client.force_login(person)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert client.get(f"{BASE}/Patient").status_code == 401
