"""Whatever else is sent along, nothing changes but what an address says that it takes."""

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.apps import apps
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Injury, Person
from tests import scene as scenes
from tests import trailed
from tests.builders import NOW
from tests.fhir_bodies import transaction
from tests.scene import Scene, said, taken_back
from tests.test_api_access import RESOURCES, send, url

pytestmark = pytest.mark.django_db
# Every column of every table of ours, by both of its names.
COLUMNS = sorted(
    {
        name
        for config in apps.get_app_configs()
        if getattr(config, "is_room", False)
        for model in config.get_models()
        for field in model._meta.concrete_fields
        for name in (field.name, field.attname)
    }
)


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    yield from scenes.build(django_db_blocker)


@pytest.fixture(autouse=True)
def nobody_has_asked_too_often() -> None:
    cache.clear()


@pytest.fixture
def client(scene: Scene) -> Client:
    found = Client()
    found.force_login(Person.objects.get(username="north_everything"))
    return found


def resolved(described: Any, part: Any) -> dict[str, Any]:
    name = part.get("$ref", "").rsplit("/", 1)[-1]
    found: dict[str, Any] = described["components"]["schemas"][name] if name else part
    return found


def declared(described: Any, address: str, method: str) -> set[str]:
    """Return what the description says that a write at an address takes."""
    for path, operations in described["paths"].items():
        if re.fullmatch(re.sub(r"\{[^}]+\}", "[^/]+", path), address) and method in operations:
            body = operations[method].get("requestBody")
            if body is None:
                return set()
            content = next(iter(body["content"].values()))["schema"]
            return set(resolved(described, content).get("properties", {}))
    raise AssertionError(f"{method} {address} is not described")


WRITES = [
    (name, method) for name, one in RESOURCES.items() for method in one.needs if method != "get"
]


@pytest.mark.parametrize(("name", "method"), WRITES)
def test_the_interface_refuses_every_column_that_it_does_not_declare(
    scene: Scene, client: Client, name: str, method: str
) -> None:
    described = json.loads(said(client.get(reverse("v1:schema"))))
    address = url(scene, name, "north")
    takes = declared(described, address, method)
    others = [column for column in COLUMNS if column not in takes]
    assert {"is_superuser", "is_staff", "recorded_by", "voided_at"} <= set(others)
    begun = trailed.last_entry()
    with taken_back():
        got = send(client, method, address, dict.fromkeys(others, 1))
        assert got.status_code in (400, 403, 409, 412, 415), got.content
        if got.status_code == 400:
            assert trailed.last_entry() == begun
        silent = [one for one in others if one not in said(got)] if got.status_code == 400 else []
    assert trailed.last_entry() == begun
    assert not silent, f"{method} {address} says nothing of {silent}"


@pytest.mark.parametrize(
    "column", ["id", "site", "version", "recorded_by", "voided_at", "patient", "is_superuser"]
)
def test_what_is_sent_along_with_a_change_stops_it_or_is_passed_over(
    scene: Scene, client: Client, column: str
) -> None:
    # A row that was read may be sent back whole: what is never written is passed over then.
    address = url(scene, "v1:api-injury-detail", "north")
    row = Injury.objects.filter(pk=scene.things["north"]["injury_id"])
    before = row.values().get()
    with taken_back(), time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        got = client.patch(
            address,
            {"energy": "high", "reason": "read the note", column: 77},
            content_type="application/json",
            headers={"If-Match": client.get(address).headers["ETag"]},
        )
        after = row.values().get()
    changed = {name for name, value in before.items() if after[name] != value}
    due = {"energy", "version", "changed_at"} if got.status_code == 200 else set()
    assert changed == due, got.content
    assert after["version"] == before["version"] + (got.status_code == 200)
    assert got.status_code in (200, 400)


def test_a_transaction_takes_no_column_of_ours(scene: Scene, client: Client) -> None:
    extra = dict.fromkeys(("site", "version", "recorded_by", "voided_at", "is_superuser"), 1)
    for kind in ("patient", "condition", "procedure", "device"):
        for name, value in extra.items():
            begun = trailed.last_entry()
            with taken_back():
                body = json.dumps(transaction(**{kind: {name: value}}))
                got = client.post("/fhir/r4/", body, content_type="application/fhir+json")
                assert got.status_code in (200, 400)
                if got.status_code == 400:
                    assert trailed.last_entry() == begun
                else:
                    wrong = Person.objects.filter(is_superuser=True)
                    assert not wrong.exists()
