"""Every address of the interface for programs, by everybody, with an own and a foreign site's row.

What test_access.py says of the pages holds here; the table names for each address the action that
each of its methods needs. Any role that may use the interface at all needs `use_api` besides.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.rules import roles
from tests import scene as scenes
from tests.scene import ADDRESSES, VISITORS, Scene, betrayed, expected, rows, said, taken_back

pytestmark = pytest.mark.django_db
METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True)
class Resource:
    """The action that each method needs, and what the arguments are called in `world`.

    `row` is a further action that the row itself needs where not everybody who may use the method
    sees every row: without it the row is not there.
    """

    needs: Mapping[str, str]
    of: Mapping[str, str] = field(default_factory=dict)
    row: str = ""


def resource(pk: str = "", row: str = "", **needs: str) -> Resource:
    return Resource(needs, {"pk": pk} if pk else {}, row)


# Only the reader of a reading corrects it, and nobody who comes to the door here has read anything.
NOBODY = "nobody"


RESOURCES: dict[str, Resource] = {
    "v1:api-patient-list": resource(get="see_patient", post="enrol"),
    "v1:api-patient-detail": resource(get="see_patient", patch="correct"),
    "v1:api-patient-identity": resource(get="see_identity", patch="correct"),
    "v1:api-patient-void": resource(post="correct"),
    "v1:api-injury-list": resource(get="see_patient", post="enrol"),
    "v1:api-injury-detail": resource("injury_id", get="see_patient", patch="correct"),
    "v1:api-injury-classify": resource("injury_id", post="correct"),
    "v1:api-injury-move": resource("injury_id", post="correct"),
    "v1:api-injury-side": resource("injury_id", post="correct"),
    "v1:api-injury-void": resource("injury_id", post="correct"),
    "v1:api-procedure-list": resource(get="see_patient", post="enrol"),
    "v1:api-procedure-detail": resource("procedure_id", get="see_patient", patch="correct"),
    "v1:api-procedure-void": resource("procedure_id", post="correct"),
    "v1:api-construct-list": resource(get="see_patient", post="enrol"),
    "v1:api-construct-detail": resource("construct_id", get="see_patient", patch="correct"),
    "v1:api-construct-parts": resource("construct_id", post="correct"),
    "v1:api-construct-labelled-parts": resource("construct_id", post="correct"),
    "v1:api-label-list": resource(post="see_patient"),
    "v1:api-construct-type-list": resource(get="use_api"),
    "v1:api-construct-type-detail": Resource({"get": "use_api"}, {"code": "=LP"}),
    "v1:api-safety-notice-list": resource(get="trace"),
    "v1:api-safety-notice-detail": resource("notice_id", get="trace"),
    "v1:api-notice-carrier-list": resource(get="trace"),
    "v1:api-notice-carrier-detail": resource("carrier_id", get="trace"),
    "v1:api-review-list": resource(get="see_patient"),
    "v1:api-review-detail": resource("review_id", get="see_patient"),
    "v1:api-review-slots": resource("review_id", get="book"),
    "v1:api-review-book": resource("review_id", post="book"),
    "v1:api-review-cancel": resource("review_id", post="book"),
    "v1:api-review-missed": resource("review_id", post="record_contact"),
    "v1:api-review-attempt": resource("review_id", post="record_contact"),
    "v1:api-review-not-needed": resource("review_id", post="end_review"),
    "v1:api-review-visit": resource("review_id", post="record_visit"),
    "v1:api-film-list": resource(get="see_films", post="record_visit"),
    "v1:api-film-detail": resource("film_id", get="see_films"),
    "v1:api-film-image-list": resource(get="see_films"),
    "v1:api-film-image-detail": resource("image_id", get="see_films"),
    "v1:api-film-image-frame": Resource({"get": "see_films"}, {"pk": "image_id", "number": "=1"}),
    "v1:api-film-in-list": resource(get="take_in_films", post="take_in_films"),
    "v1:api-film-in-detail": resource("incoming_id", get="take_in_films"),
    "v1:api-reading-list": resource(get="see_films", post="read_film"),
    # Who reads films without seeing patients is not shown what others read.
    "v1:api-reading-detail": resource("reading_id", row="see_patient", get="see_films"),
    "v1:api-reading-correct": resource("reading_id", post=NOBODY),
    "v1:api-motion-exam-list": resource(get="see_patient", post="record_visit"),
    "v1:api-motion-exam-detail": resource("exam_id", get="see_patient", patch="record_visit"),
    "v1:api-motion-exam-void": resource("exam_id", post="record_visit"),
    "v1:api-score-list": resource(get="see_patient", post="record_visit"),
    "v1:api-score-detail": resource("score_id", get="see_patient", patch="record_visit"),
    "v1:api-score-void": resource("score_id", post="record_visit"),
    "v1:api-complication-list": resource(get="see_patient", post="record_visit"),
    "v1:api-complication-detail": resource(
        "complication_id", get="see_patient", patch="record_visit"
    ),
    "v1:api-complication-void": resource("complication_id", post="record_visit"),
    "v1:api-hardware-decision-list": resource(get="see_hardware", post="decide_hardware"),
    "v1:api-hardware-decision-detail": resource(
        "decision_id", get="see_hardware", patch="decide_hardware"
    ),
    "v1:api-rates": resource(get="see_outcomes"),
}
# What is described or said to everybody who has signed in; no row of anybody's is named there.
FOR_ALL = {"v1:schema", "v1:schema-yaml", "api-unknown"}


# What no person may use at all: tests/followup/api/test_replies.py.
BY_SECRET = {"v1:api-reply"}


# Construct types and safety notices belong to no site: whoever may see them sees them all.
SHARED = {
    "v1:api-construct-type-list",
    "v1:api-construct-type-detail",
    "v1:api-safety-notice-list",
    "v1:api-safety-notice-detail",
}


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    yield from scenes.build(django_db_blocker)


@pytest.fixture(autouse=True)
def nobody_has_asked_too_often() -> None:
    cache.clear()


def url(scene: Scene, name: str, site: str) -> str:
    """Return the address of this name with a row of a site."""
    of = RESOURCES[name].of
    given = {part: scene.value(site, of.get(part, part)) for part in ADDRESSES[name]}
    return reverse(name, kwargs=given)


def sees(visitor: str, site: str) -> bool:
    """Say whether a visitor sees the outcomes of a site."""
    return roles.allowed(VISITORS[visitor].get(site, "").split("+"), "see_outcomes")


def wanted(visitor: str, name: str, method: str, site: str) -> int:
    """Return what a visitor gets; 200 stands for whatever the method answers when it is allowed."""
    one, held = RESOURCES[name], VISITORS[visitor]
    may_at_all = any(roles.allowed(names.split("+"), "use_api") for names in held.values())
    if not may_at_all or one.needs[method] == NOBODY:
        return 403
    if one.row and not roles.allowed(held.get(site, "").split("+"), one.row):
        return expected(visitor, one.needs[method], site, 404, of_a_site=True)
    of_a_site = bool(ADDRESSES[name]) and name not in SHARED
    return expected(visitor, one.needs[method], site, 200, of_a_site=of_a_site)


def visits(scene: Scene, name: str) -> Iterator[tuple[str, str, str]]:
    """Yield each visitor with each site and the address of this name there."""
    for visitor in scene.clients:
        for site in scene.things:
            yield visitor, site, url(scene, name, site)


def send(client: Client, method: str, address: str, body: Any = None) -> Any:
    if method == "get":
        return client.get(address)
    call = getattr(client, method)
    headers = {"If-Match": '"1"'}
    return call(address, body or {}, content_type="application/json", headers=headers)


def test_every_address_stands_in_the_table() -> None:
    # Those that speak FHIR stand in test_fhir_access.py.
    present = {n for n in ADDRESSES if scenes.for_programs(n) and not scenes.for_fhir(n)}
    missing = sorted(present - set(RESOURCES) - FOR_ALL - BY_SECRET)
    assert not missing, (
        f"{missing}: say in tests/test_api_access.py who may use it: add it to the table"
    )
    gone = sorted((set(RESOURCES) | FOR_ALL | BY_SECRET) - present)
    assert not gone, f"{gone}: there is no such address any more; take it out of the table"


@pytest.mark.parametrize("name", [name for name, one in RESOURCES.items() if "get" in one.needs])
def test_a_resource_is_read_by_those_whose_roles_say_so(scene: Scene, name: str) -> None:
    wrong = []
    for visitor, site, address in visits(scene, name):
        asked = [address]
        if not ADDRESSES[name] and name not in SHARED:
            asked.append(f"{address}?site={site}")
        due = wanted(visitor, name, "get", site)
        for one in asked:
            got = scene.clients[visitor].get(one)
            # A list filtered by another site is empty; rates of one would look like none at all.
            refused = "?site=" in one and name == "v1:api-rates" and not sees(visitor, site)
            wanted_now = 400 if refused and due == 200 else due
            if got.status_code != wanted_now:
                wrong.append(
                    f"{visitor}, {site}: {one} answers {got.status_code}, not {wanted_now}"
                )
            wrong.append(betrayed(scene, visitor, got, one))
    assert not any(wrong), "\n".join(filter(None, wrong))


@pytest.mark.parametrize("name", RESOURCES)
def test_what_is_sent_by_those_who_may_not_changes_nothing(scene: Scene, name: str) -> None:
    wrong, needs = [], RESOURCES[name].needs
    sent = {"reason": "no reason", "status": "died", "status_on": "2026-11-01"}
    before = rows()
    for visitor, site, address in visits(scene, name):
        for method in METHODS[1:]:
            if method in needs and wanted(visitor, name, method, site) == 200:
                continue
            got = send(scene.clients[visitor], method, address, sent)
            if got.status_code not in ({403, 404} if method in needs else {403, 405}):
                wrong.append(f"{visitor}, {site}: {method} {address} answers {got.status_code}")
            wrong.append(betrayed(scene, visitor, got, address))
    assert not any(wrong), "\n".join(filter(None, wrong))
    assert rows() == before


@pytest.mark.parametrize("name", [n for n, one in RESOURCES.items() if set(one.needs) - {"get"}])
def test_what_may_be_sent_is_answered(scene: Scene, name: str) -> None:
    wrong = []
    for visitor, site, address in visits(scene, name):
        for method in set(RESOURCES[name].needs) - {"get"}:
            if wanted(visitor, name, method, site) != 200:
                continue
            with taken_back():
                got = send(scene.clients[visitor], method, address)
            if got.status_code not in (200, 201, 204, 400, 409, 412):
                wrong.append(f"{visitor}, {site}: {method} {address} answers {got.status_code}")
            wrong.append(betrayed(scene, visitor, got, address))
    assert not any(wrong), "\n".join(filter(None, wrong))


@pytest.mark.parametrize(
    ("name", "link", "thing"),
    [
        ("v1:api-injury-list", "patient", "key"),
        ("v1:api-procedure-list", "injury", "injury_id"),
        ("v1:api-construct-list", "procedure", "bare_procedure_id"),
        ("v1:api-film-list", "injury", "injury_id"),
        ("v1:api-reading-list", "film", "film_id"),
        ("v1:api-motion-exam-list", "injury", "injury_id"),
        ("v1:api-score-list", "injury", "injury_id"),
        ("v1:api-complication-list", "procedure", "procedure_id"),
        ("v1:api-hardware-decision-list", "procedure", "procedure_id"),
    ],
)
def test_a_new_row_cannot_hang_on_a_foreign_one(
    scene: Scene, name: str, link: str, thing: str
) -> None:
    before = rows()
    sent = {link: scene.value("south", thing), "kind": "fixation", "side": "left"}
    answer = send(scene.clients["surgeon"], "post", reverse(name), sent)
    assert answer.status_code in (400, 403, 404)
    assert not {mark for mark in scene.marks["south"] if mark in said(answer)}
    assert rows() == before


@pytest.mark.parametrize("name", RESOURCES)
def test_without_signing_in_nothing_is_read_or_written(scene: Scene, name: str) -> None:
    before = rows()
    for site in ("north", "south"):
        for method in METHODS:
            answer = send(Client(), method, url(scene, name, site))
            assert answer.status_code == 401
            assert answer.headers["Content-Type"].startswith("application/problem+json")
    assert rows() == before


@pytest.mark.parametrize("name", sorted(FOR_ALL))
def test_what_is_there_for_all_who_signed_in_names_nobody(scene: Scene, name: str) -> None:
    address = "/api/nothing/" if name == "api-unknown" else reverse(name)
    marks = scene.marks["north"] | scene.marks["south"]
    for visitor in ("coordinator", "no membership"):
        answer = scene.clients[visitor].get(address)
        assert answer.status_code == (404 if name == "api-unknown" else 200)
        assert not {mark for mark in marks if mark in said(answer)}
    assert Client().get(address).status_code in (401, 404)


@pytest.mark.parametrize("name", sorted(BY_SECRET))
def test_nobody_who_signed_in_comes_in_by_a_programs_own_door(scene: Scene, name: str) -> None:
    before = rows()
    for client in scene.clients.values():
        for method in METHODS:
            answer = send(client, method, reverse(name, args=["north"]), {"key": "k"})
            assert answer.status_code == 401
    assert rows() == before


def test_the_marks_are_what_the_interface_says_of_a_patient(scene: Scene) -> None:
    shown = said(
        scene.clients["all roles there"].get(url(scene, "v1:api-patient-identity", "south"))
    )
    assert {mark for mark in scene.marks["south"] if mark in shown} >= {"Zuidervaart", "1931-02-07"}
