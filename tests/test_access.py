"""Every page, by everybody who may come to the door, with an own and a foreign site's object.

The addresses come from the resolver, and who may what from `registry/rules/roles.py`; the tables in
tests/doors say which action an address is about. An address that is missing from it fails. Those of the
interface for programs stand in test_api_access.py.
"""

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests import scene as scenes
from tests import world
from tests.doors.analytics import DOORS as OF_ANALYTICS
from tests.doors.config import DOORS as OF_CONFIG
from tests.doors.door import THIS, Door, Row
from tests.doors.followup import DOORS as OF_FOLLOWUP
from tests.doors.registry import DOORS as OF_REGISTRY
from tests.scene import ADDRESSES, Scene, betrayed, expected, rows, said, taken_back

pytestmark = pytest.mark.django_db

DOORS: dict[str, Door] = {**OF_REGISTRY, **OF_FOLLOWUP, **OF_ANALYTICS, **OF_CONFIG}
# Everybody's own start and sign-in, whatever their role; no row of anybody's is named there.
FOR_ALL = {
    "home",
    "health",
    "alive",
    # Not there without its token.
    "metrics",
    "account_login",
    "account_logout",
    "account_change_password",
    "account_signup",
    "account_reauthenticate",
    "account_inactive",
    "account",
    "session-end",
    # Keeps the words that somebody looks for in their own session.
    "find",
    *("mfa_index", "mfa_authenticate", "mfa_reauthenticate"),
    *("mfa_activate_totp", "mfa_deactivate_totp"),
    *("mfa_view_recovery_codes", "mfa_generate_recovery_codes", "mfa_download_recovery_codes"),
    *("mfa_list_webauthn", "mfa_add_webauthn", "mfa_reauthenticate_webauthn"),
}
# What a patient opens with a link, whoever is signed in: the link is the right.
BY_LINK: dict[str, Row] = {"questionnaire": THIS, "questionnaire-open": {"link": "link"}}
# What is about one passkey of one's own: nobody else's is there.
# The way to the hospital's provider and back; switched off, there is none.
OF_A_PROVIDER = {"openid_connect_login", "openid_connect_callback"}
OF_ONES_OWN = {"mfa_remove_webauthn", "mfa_edit_webauthn"}
# What a program reads by a secret address, whoever asks: the address is the right. It says no names.
BY_SECRET = {"calendar-feed"}
# Arguments that belong to no site: construct types, implants and safety notices are shared by all,
# tokens and kept views are a person's own.
SHARED = {"job", "type_id", "model_id", "begins", "filter_id", "notice_id"}


def urls(scene: Scene, name: str, site: str) -> list[str]:
    """Return the addresses of this name with the objects of a site."""
    door = DOORS[name]
    query = "&".join(f"{key}={scene.value(site, word)}" for key, word in door.query.items())
    found = []
    for names in door.of:
        given = {part: scene.value(site, names.get(part, part)) for part in ADDRESSES[name]}
        found.append(reverse(name, kwargs=given) + (f"?{query}" if query else ""))
    return found


def visits(scene: Scene, name: str) -> Iterator[tuple[str, str, str]]:
    """Yield each visitor with each site and the addresses of this name there."""
    for visitor in scene.clients:
        for site in scene.things:
            for address in urls(scene, name, site):
                yield visitor, site, address


@pytest.fixture(scope="module")
def scene(django_db_setup: None, django_db_blocker: Any) -> Iterator[Scene]:
    yield from scenes.build(django_db_blocker)


def has_object(name: str) -> bool:
    """Say whether an address names something that belongs to a site."""
    return bool(ADDRESSES[name] - SHARED) or bool(DOORS[name].query)


def test_every_address_stands_in_the_table() -> None:
    pages = {name for name in ADDRESSES if not scenes.for_programs(name)}
    missing = sorted(
        pages - set(DOORS) - FOR_ALL - OF_ONES_OWN - OF_A_PROVIDER - set(BY_LINK) - BY_SECRET
    )
    assert not missing, f"{missing}: say in tests/doors who may open it"
    gone = sorted(
        (set(DOORS) | FOR_ALL | OF_ONES_OWN | OF_A_PROVIDER | set(BY_LINK) | BY_SECRET) - pages
    )
    assert not gone, f"{gone}: there is no such address any more; take it out of the table"


def test_both_sites_have_something_for_every_argument(scene: Scene) -> None:
    for site in ("north", "south"):
        assert all(urls(scene, name, site) for name in DOORS)


@pytest.mark.parametrize("name", DOORS)
def test_an_address_answers_each_visitor_as_their_roles_say(scene: Scene, name: str) -> None:
    door, wrong = DOORS[name], []
    for visitor, site, address in visits(scene, name):
        due = expected(visitor, door.opens, site, door.answer, of_a_site=has_object(name))
        got = scene.clients[visitor].get(address)
        if got.status_code != due:
            wrong.append(f"{visitor}, {site}: {address} answers {got.status_code}, not {due}")
        wrong.append(betrayed(scene, visitor, got, address))
        wrong += repeated_ids(got, address)
    assert not any(wrong), "\n".join(filter(None, wrong))


def repeated_ids(answer: Any, address: str) -> list[str]:
    """Name the ids of a page that stand there twice: a label would work the wrong field."""
    if not answer.get("Content-Type", "").startswith("text/html"):
        return []
    found = Counter(re.findall(r'\sid="([^"]+)"', answer.content.decode()))
    return [f"{address}: id {one} stands there {n} times" for one, n in found.items() if n > 1]


@pytest.mark.parametrize("name", DOORS)
def test_what_is_sent_by_those_who_may_not_changes_nothing(scene: Scene, name: str) -> None:
    door, wrong = DOORS[name], []
    # What one may see but not change is not allowed; where one may do neither, it is not there.
    refusals = {403, 404} if door.sends else {405}
    before = rows()
    for visitor, site, address in visits(scene, name):
        if expected(visitor, door.sends, site, 200, of_a_site=has_object(name)) == 200:
            continue
        got = scene.clients[visitor].post(address, {"version": "1", "reason": "no reason"})
        if got.status_code not in refusals:
            wrong.append(f"{visitor}, {site}: {address} answers {got.status_code}")
        wrong.append(betrayed(scene, visitor, got, address))
    assert not any(wrong), "\n".join(filter(None, wrong))
    assert rows() == before


@pytest.mark.parametrize("name", [name for name, door in DOORS.items() if door.sends])
def test_what_may_be_sent_is_answered(scene: Scene, name: str) -> None:
    door, wrong = DOORS[name], []
    for visitor, site, address in visits(scene, name):
        if expected(visitor, door.sends, site, 200, of_a_site=True) != 200:
            continue
        with taken_back():
            got = scene.clients[visitor].post(address, {})
        if got.status_code not in (200, 302, door.answer):
            wrong.append(f"{visitor}, {site}: {address} answers {got.status_code}")
        wrong.append(betrayed(scene, visitor, got, address))
    assert not any(wrong), "\n".join(filter(None, wrong))


@pytest.mark.parametrize("name", DOORS)
def test_without_signing_in_every_door_leads_to_the_sign_in(scene: Scene, name: str) -> None:
    before = rows()
    for site in ("north", "south"):
        for url in urls(scene, name, site):
            for answer in (Client().get(url), Client().post(url, {})):
                assert answer.status_code == 302
                assert answer.headers["Location"].startswith(reverse("account_login"))
                assert not said(answer)
    assert rows() == before


@pytest.mark.parametrize("name", sorted(FOR_ALL))
def test_what_is_there_for_all_names_nobody(scene: Scene, name: str) -> None:
    everybody = {**scene.clients, "not signed in": Client()}
    marks = scene.marks["north"] | scene.marks["south"]
    for visitor, client in everybody.items():
        with taken_back():
            answer = client.get(reverse(name))
        assert answer.status_code < 500, f"{visitor}: {name}"
        assert not {mark for mark in marks if mark in said(answer)}


@pytest.mark.parametrize("name", sorted(OF_ONES_OWN))
def test_what_is_of_ones_own_is_not_there_for_anybody_else(scene: Scene, name: str) -> None:
    owner = Person.objects.get(username="surgeon")
    with taken_back():
        key = Authenticator.objects.create(
            user=owner,
            type=Authenticator.Type.WEBAUTHN,
            data={"name": "Key", "credential": {}},
        )
        address = reverse(name, args=[key.pk])
        for visitor, client in scene.clients.items():
            due = 200 if visitor == "surgeon" else 404
            assert client.get(address).status_code == due, f"{visitor}: {name}"
            if due == 404:
                assert client.post(address).status_code == 404, f"{visitor}: {name}"
        answer = Client().get(address)
        assert answer.headers["Location"].startswith(reverse("account_login"))


@pytest.mark.parametrize("name", sorted(OF_A_PROVIDER))
def test_where_no_provider_is_set_there_is_no_way_to_one(scene: Scene, name: str) -> None:
    for client in (*scene.clients.values(), Client()):
        for answer in (
            client.get(reverse(name, args=["x"])),
            client.post(reverse(name, args=["x"])),
        ):
            assert answer.status_code == 404


@pytest.mark.parametrize("name", BY_LINK)
@pytest.mark.parametrize("site", ["north", "south"])
def test_what_a_link_opens_is_there_for_all_and_names_nobody(
    scene: Scene, name: str, site: str
) -> None:
    everybody = {**scene.clients, "not signed in": Client()}
    kinds = (scene.marks, scene.keys)
    marks = set().union(*(kind[code] for kind in kinds for code in scene.things))
    given = {part: scene.value(site, word) for part, word in BY_LINK[name].items()}
    cache.clear()
    for visitor, client in everybody.items():
        with taken_back():
            answer = client.get(reverse(name, kwargs=given), follow=True)
        assert answer.status_code == (200 if given else 404), f"{visitor}: {name}"
        assert not {mark for mark in marks if mark in said(answer)}
        client.cookies.pop("questionnaire", None)


@pytest.mark.parametrize("name", sorted(BY_SECRET))
@pytest.mark.parametrize("site", ["north", "south"])
def test_what_a_secret_address_says_is_of_its_site_alone_and_without_names(
    scene: Scene, name: str, site: str
) -> None:
    everybody = {**scene.clients, "not signed in": Client()}
    marks = scene.marks["north"] | scene.marks["south"]
    foreign = scene.keys["south" if site == "north" else "north"]
    cache.clear()
    for visitor, client in everybody.items():
        for secret, status in ((scene.value(site, "secret"), 200), ("nobody-s", 404)):
            with taken_back():
                answer = client.get(reverse(name, args=[secret]))
            assert answer.status_code == status, f"{visitor}: {name}"
            assert not {mark for mark in marks | foreign if mark in said(answer)}
            assert (scene.things[site]["key"] in said(answer)) is (status == 200)
            assert client.post(reverse(name, args=[secret])).status_code in (403, 405)


def test_the_marks_are_what_pages_show_of_a_patient(scene: Scene) -> None:
    theirs = scene.things["south"]
    client = scene.clients["all roles there"]
    shown = said(client.get(reverse("patient", args=[theirs["key"]])))
    shown += said(client.get(reverse("patient-identity", args=[theirs["key"]])))
    who = world.WHO["south"]
    for mark in (who["family_name"], who["given_name"], who["phone"], who["email"]):
        assert mark in shown
        assert mark in scene.marks["south"]
    assert theirs["key"] in scene.keys["south"]
    births = {mark for mark in scene.marks["south"] if "1931" in mark}
    assert {mark for mark in births if mark in shown}


def test_the_lists_of_a_site_hold_its_own_patient(scene: Scene) -> None:
    own = world.WHO["north"]["family_name"]
    for name, visitor in (
        ("patients", "coordinator"),
        ("due", "coordinator"),
        ("clinic", "coordinator"),
        ("hardware", "surgeon"),
        ("duplicates", "coordinator"),
    ):
        assert own in said(scene.clients[visitor].get(reverse(name))), name


def test_a_deactivated_person_is_not_let_in(scene: Scene) -> None:
    person = Person.objects.get(username="surgeon")
    client = Client()
    client.force_login(person)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert client.get(reverse("due")).status_code == 302
