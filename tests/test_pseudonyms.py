"""Who is only a quality lead at a site sees its patients by key: no page, table, file or answer names one.

The same holds for somebody who looks after patients at another site. Packed files are opened first.
"""

import io
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from pypdf import PdfReader

from analytics.services import packs
from followup.services import bulk_exports
from tests import builders, world
from tests import scene as scenes
from tests.builders import NOW, TODAY
from tests.scene import Scene, taken_back
from tests.test_access import DOORS, urls
from tests.test_api_access import RESOURCES, url
from tests.test_fhir_access import BASE, ONE_OF

pytestmark = pytest.mark.django_db
LEADS = {
    "lead": {"north": "quality_lead"},
    "lead here, everything there": {"north": "quality_lead", "south": world.ALL_ROLES},
}


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    yield from scenes.build(django_db_blocker)


@pytest.fixture(autouse=True)
def nobody_has_asked_too_often() -> None:
    cache.clear()


@pytest.fixture(params=LEADS)
def lead(request: Any, scene: Scene) -> Client:
    client = Client()
    client.force_login(builders.person(request.param.replace(" ", "_"), **LEADS[request.param]))
    return client


def opened(content: bytes) -> str:
    """Return what is said in an answer, that of packed and printed files included."""
    if content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            return "\n".join(opened(packed.read(name)) for name in packed.namelist())
    if content.startswith(b"%PDF"):
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    return content.decode(errors="replace")


def whole(answer: Any) -> str:
    return opened(b"".join(answer) if answer.streaming else answer.content)


def marks(scene: Scene) -> set[str]:
    """Return all that says who a patient of the north is."""
    theirs = scene.marks["north"] - scene.keys["north"]
    assert {"Quillfeather", "Brisa", "1962-04-19", "0555 010 4407"} <= theirs
    return theirs


def named(scene: Scene, answer: Any, address: str) -> str:
    text = whole(answer)
    found = sorted(mark for mark in marks(scene) if mark in text and mark not in address)
    return f"{address} says {found}" if found else ""


def test_what_is_packed_is_opened_before_it_is_searched() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("in.csv", "Quillfeather")
    outer = io.BytesIO()
    with zipfile.ZipFile(outer, "w") as archive:
        archive.writestr("in.zip", packed.getvalue())
    assert "Quillfeather" in opened(outer.getvalue())


def test_no_page_table_or_file_names_a_patient(scene: Scene, lead: Client) -> None:
    wrong, answered = [], 0
    for name, door in DOORS.items():
        for address in urls(scene, name, "north") if door.opens else ():
            for more in ("", "&format=xlsx" if "?" in address else "?format=xlsx"):
                with taken_back():
                    got = lead.get(address + more)
                    wrong.append(named(scene, got, address))
                answered += got.status_code == 200
    assert not any(wrong), "\n".join(filter(None, wrong))
    assert answered > 60


def test_no_form_answers_with_a_name(scene: Scene, lead: Client) -> None:
    wrong = []
    for name, door in DOORS.items():
        for address in urls(scene, name, "north") if door.sends else ():
            with taken_back():
                sent = {"q": "Quill", "reason": "to see what it says", "version": "1"}
                wrong.append(named(scene, lead.post(address, sent), address))
    assert not any(wrong), "\n".join(filter(None, wrong))


def test_no_resource_of_the_interface_names_a_patient(scene: Scene, lead: Client) -> None:
    wrong, answered = [], 0
    for name, one in RESOURCES.items():
        if "get" in one.needs:
            address = url(scene, name, "north")
            got = lead.get(address)
            wrong.append(named(scene, got, address))
            answered += got.status_code == 200
    for kind, (pattern, word) in ONE_OF.items():
        things = scene.things["north"]
        row = things.get(word)
        addresses = [f"{BASE}/{kind}?_count=200"]
        addresses += [f"{BASE}/{kind}/{pattern.format(row)}"] if row is not None else []
        for address in addresses:
            got = lead.get(address)
            wrong.append(named(scene, got, address))
            answered += got.status_code == 200
    assert not any(wrong), "\n".join(filter(None, wrong))
    assert answered > 10


@pytest.mark.parametrize(
    "asked",
    [
        "/patients/?q=Quillfeather",
        "/api/v1/patients/?q=Quillfeather",
        f"{BASE}/Patient?name=Quillfeather",
        f"{BASE}/Patient?family=Quillfeather",
        f"{BASE}/Patient?birthdate=1962-04-19",
    ],
)
def test_a_search_by_who_somebody_is_finds_nothing(scene: Scene, lead: Client, asked: str) -> None:
    got = lead.get(asked)
    assert got.status_code in (200, 400, 403)
    assert scene.things["north"]["key"] not in whole(got)


def test_copies_and_packs_that_a_lead_takes_name_nobody(scene: Scene) -> None:
    by = builders.person("taker", north="quality_lead", south=world.ALL_ROLES)
    site = builders.site("north")
    with taken_back():
        export = bulk_exports.ask(types=list(ONE_OF), since=None, request="x", by=by, now=NOW)
        bulk_exports.make_waiting(now=NOW)
        client = Client()
        client.force_login(by)
        written = ""
        for one in export.files.filter(is_error=False):
            got = client.get(f"{BASE}/$export-file/{export.uuid}/{one.kind}.ndjson")
            assert got.status_code == 200
            written += whole(got)
        assert scene.things["south"]["key"] in written
        assert scene.things["north"]["key"] in written
        assert not {mark for mark in marks(scene) if mark in written}
        for outside in (True, False):
            pack = packs.ask(sites=[site], address="", for_outside=outside, by=by, now=NOW)
            packs.make_waiting(now=NOW + timedelta(minutes=1), today=TODAY)
            files = pack.files.all()
            assert files
            for file in files:
                text = opened(bytes(file.content))
                assert not {mark for mark in marks(scene) if mark in text}
