"""Every resource of a whole service, by name and by key alone, held to the library and the tables."""

from collections.abc import Iterator
from typing import Any

import pytest

from followup.exchange.fhir import search
from followup.exchange.fhir.kinds import KINDS
from registry.rules import roles
from registry.selectors import fhir_rows
from registry.selectors.fhir_rows import Seer
from tests import many
from tests import scene as scenes
from tests.fhir import valid
from tests.fhir_rows import lead, surgeon_sees
from tests.scene import Scene

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    for built in scenes.build(django_db_blocker):
        many.grow(built.things["north"], 1, 30)
        yield built


def everything(seer: Seer) -> Iterator[dict[str, Any]]:
    for kind in KINDS.values():
        for source in kind.sources:
            for chunk in search.streamed(kind, source, seer, None, 100):
                yield from chunk


def test_every_resource_of_a_whole_service_is_valid(scene: Scene) -> None:
    found: dict[str, int] = {}
    for resource in everything(surgeon_sees()):
        valid(resource)
        found[resource["resourceType"]] = found.get(resource["resourceType"], 0) + 1
    assert set(found) == set(KINDS)
    assert min(found.values()) > 10


def test_whoever_takes_data_without_names_gets_valid_resources_that_name_nobody(
    scene: Scene,
) -> None:
    marks = scene.marks["north"] | scene.marks["south"]
    kinds = set()
    for resource in everything(fhir_rows.taker(lead())):
        said = str(valid(resource))
        kinds.add(resource["resourceType"])
        assert not {mark for mark in marks if mark in said}
    assert kinds == set(KINDS) - {"Task", "Appointment"}


def test_every_reference_leads_to_a_resource_that_is_served(scene: Scene) -> None:
    ids: set[str] = set()
    wanted: set[str] = set()
    for resource in everything(surgeon_sees()):
        ids.add(f"{resource['resourceType']}/{resource['id']}")
        wanted |= set(references(resource))
    # Whoever was merged into another is read by the old key, and not found among the living.
    old = {one.rpartition("/")[2] for one in wanted - ids}
    assert all(fhir_rows.merged_patient(surgeon_sees(), key) for key in old)


def references(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        if isinstance(node.get("reference"), str):
            yield node["reference"]
        for value in node.values():
            yield from references(value)
    elif isinstance(node, list):
        for value in node:
            yield from references(value)


def test_each_type_is_opened_by_rights_that_there_are() -> None:
    for kind in KINDS.values():
        assert set(kind.sees) <= set(roles.TABLE)
        assert kind.params.keys() >= {"patient"} or kind.name in ("Patient", "AdverseEvent")
