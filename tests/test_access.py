"""Every page, by everybody who may come to the door, with an own and a foreign site's object.

The addresses come from the resolver, and who may what from `registry/rules/roles.py`; the table
below says which action an address is about. An address that is missing from it fails. Those of the
interface for programs stand in test_api_access.py.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests import scene as scenes
from tests import world
from tests.scene import ADDRESSES, Scene, betrayed, expected, rows, said, taken_back

pytestmark = pytest.mark.django_db

Row = Mapping[str, str]
THIS: Row = {}


@dataclass(frozen=True)
class Door:
    """What an address is about.

    `opens` is the action that permits looking, `sends` the one that permits sending its form; an
    address without the one or the other answers 405 to it. `answer` is what those who may get.
    `of` says, for each object that stands for the address, what its arguments are called in
    `world.one_of_each` where the names differ; a value that begins with '=' is written as it is.
    `query` likewise.
    """

    opens: str = ""
    sends: str = ""
    answer: int = 200
    of: tuple[Row, ...] = (THIS,)
    query: Row = field(default_factory=dict)


def page(action: str, **more: Any) -> Door:
    return Door(opens=action, **more)


def form(action: str, **more: Any) -> Door:
    return Door(opens=more.pop("opens", action), sends=action, **more)


def act(action: str, answer: int, **more: Any) -> Door:
    return Door(sends=action, answer=answer, **more)


DOORS: dict[str, Door] = {
    "patients": page("see_identity"),
    "patient": page("see_patient"),
    "patient-identity": form("correct"),
    "patient-number-add": form("correct"),
    "patient-contact-add": form("correct"),
    "contact-correct": form("correct"),
    "contact-remove": form("correct"),
    "patient-status": form("correct"),
    "patient-consent": form("correct"),
    "patient-history": page("see_patient"),
    "number-remove": form("correct"),
    "enrol": form("enrol"),
    "enrol-injury": form("enrol"),
    "enrol-procedure": form("enrol"),
    "enrol-construct": form("enrol", of=({"procedure_id": "bare_procedure_id"},)),
    "construct-checks": act("enrol", 200),
    "enrol-plan": page("enrol"),
    "injury-correct": form("correct"),
    "injury-classify": form("correct"),
    "procedure-correct": form("correct"),
    "construct-correct": form("correct"),
    "part-add": form("correct"),
    "void": form(
        "correct",
        of=(
            {"kind": "=patient", "row_id": "patient_id"},
            {"kind": "=injury", "row_id": "injury_id"},
            {"kind": "=classification", "row_id": "classification_id"},
            {"kind": "=procedure", "row_id": "procedure_id"},
            {"kind": "=part", "row_id": "part_id"},
            {"kind": "=consent", "row_id": "consent_id"},
        ),
    ),
    "duplicates": page("correct"),
    "duplicates-merge": form("correct", query={"one": "key", "other": "other_key"}),
    "duplicates-undo": act("correct", 302),
    "setup": page("set_up"),
    "setup-sites": page("set_up"),
    "setup-site-add": form("set_up"),
    "setup-site": form("set_up"),
    "setup-people": page("set_up"),
    "setup-person-add": form("set_up"),
    "setup-role-known": form("set_up"),
    "setup-person": form("set_up"),
    "setup-role-grant": form("set_up"),
    "setup-role-end": form("set_up"),
    "setup-construct-types": page("set_up"),
    "setup-construct-type-add": form("set_up"),
    "setup-construct-type": form("set_up"),
    "setup-monitoring": page("set_up"),
    "setup-monitoring-site": form("set_up"),
    "setup-monitoring-end": form("set_up"),
    "setup-definitions": page("set_up"),
    "setup-definition": form("set_up", of=({"endpoint": "=loss_of_reduction"},)),
    "setup-protocols": page("set_up"),
    "setup-protocol": page("set_up"),
    "setup-protocol-new": form("set_up"),
    "setup-protocol-own": form("set_up"),
    "messages": page("see_messages"),
    "message": page("see_messages"),
    "message-again": act("settle_messages", 302),
    "message-delivered": act("settle_messages", 302),
    "message-given-up": act("settle_messages", 302),
    "replies": page("see_messages"),
    "reply": page("see_messages"),
    "reply-seen": act("settle_messages", 302),
    "setup-messages": page("set_up"),
    "setup-messages-site": page("set_up"),
    "setup-messages-rules": form("set_up"),
    "setup-messages-words-add": form("set_up"),
    "setup-messages-words": form(
        "set_up",
        of=({"purpose": "=reminder", "length": "=short", "language": "=en"},),
    ),
    "setup-protocols-compare": page("set_up"),
    "setup-protocol-move": form("set_up"),
    "setup-clinics": page("set_up"),
    "setup-clinic": form("set_up"),
    "setup-contact": page("set_up"),
    "setup-contact-site": form("set_up"),
    "setup-readings": page("set_up"),
    "setup-readings-site": form("set_up"),
    "setup-union": page("set_up"),
    "setup-union-site": form("set_up"),
    "setup-clinic-add": form("set_up"),
    "setup-day-close": form("set_up"),
    "setup-day-open": act("set_up", 302),
    "setup-holidays-close": form("set_up"),
    "setup-questionnaires": page("set_up"),
    "setup-questionnaire-site": page("set_up"),
    "setup-questionnaire-rules": form("set_up"),
    "setup-advice": form("set_up", of=({"language": "=en"},)),
    "setup-questionnaire-step": form("set_up", of=({"step_code": "=6m"},)),
    "setup-wording-add": form("set_up"),
    "setup-wording": form("set_up"),
    "background": page("set_up"),
    "background-run": act("set_up", 302, of=({"job": "=forget_job_runs"},)),
    "interface": page("use_api"),
    "token-make": act("use_api", 302),
    "token-revoke": act("use_api", 404, of=({"begins": "=nothing"},)),
    "due": page("see_due"),
    "review-sums": page("see_due"),
    "call-sheet": page("see_due"),
    "due-csv": page("see_due"),
    "due-xlsx": page("see_due"),
    "due-filter-save": act("see_due", 302),
    "due-filter-start": act("see_due", 404, of=({"filter_id": "=0"},)),
    "due-filter-delete": act("see_due", 404, of=({"filter_id": "=0"},)),
    "due-book-several": act("book", 302),
    "due-remind-several": act("record_contact", 302),
    "due-end-several": act("end_review", 302),
    "tasks": page("see_due"),
    "task-close": form("record_contact"),
    "clinic-list": page("see_clinic"),
    "review-book": form("book"),
    "review-attempt": form("record_contact"),
    "review-not-needed": form("end_review"),
    "review-missed": form("record_contact"),
    "load": page("see_due", query={"site": "site_id"}),
    "load-week": page("see_due", of=({"monday": "=2026-12-28"},)),
    "load-level": act("book", 302),
    "load-proposal": page("see_due"),
    "load-apply": act("book", 302),
    "load-discard": act("book", 302),
    "review-move": form("book"),
    "responses": page("see_responses"),
    "responses-csv": page("see_responses"),
    "review-link": act("invite", 200),
    "invitation-revoke": act("invite", 302),
    "calendars": page("see_clinic"),
    "calendar-make": act("see_clinic", 403),
    "calendar-revoke": act("see_clinic", 404),
    "setup-calendars": page("set_up"),
    "setup-calendar-revoke": act("set_up", 302),
    "setup-calendar-names": form("set_up"),
    "clinic": page("see_clinic"),
    "clinic-score": form("record_visit", of=({"code": "=quickdash"},)),
    "clinic-visit": form("record_visit", opens="see_clinic"),
    "visit-draft": act("record_visit", 200),
    "visit-draft-forget": act("record_visit", 302),
    "visit-presence": act("record_visit", 200),
    "visit-letters": page("see_clinic"),
    # The review of the letter is recorded; the booked one sends whoever may write back to its page.
    "visit-letter-write": form(
        "record_visit", of=({"review_id": "seen_review_id", "kind": "=referrer"},)
    ),
    "letter": page("see_clinic"),
    "letter-pages": page("see_clinic"),
    "letter-words": page("see_clinic"),
    "letter-send": act("record_contact", 200),
    "films": page("see_films"),
    "films-read": form("read_film"),
    "film-correct": form("correct"),
    "films-lost": page("see_losses"),
    "films-lost-one": form("see_losses"),
    "film-take": act("read_film", 302),
    "film-give-back": act("read_film", 302),
    "films-lost-mails": form("see_losses"),
    "image-frame": page("see_films"),
    "image-measure": form("read_film"),
    "image-calibrate": act("read_film", 200),
    "image-measure-again": act("read_film", 302),
    "incoming": form("take_in_films"),
    "incoming-image": form("take_in_films"),
    "incoming-frame": page("take_in_films"),
    "incoming-discard": act("take_in_films", 302),
    "incoming-paint": act("take_in_films", 302),
    "hardware": page("see_hardware"),
    "hardware-decide": form("decide_hardware", opens="see_hardware"),
    "hardware-times": page("see_hardware"),
    "hardware-times-csv": page("see_hardware"),
    "import": form("import_cases"),
    "import-template": page("import_cases"),
    "import-check": form("import_cases"),
    "import-rejected": page("import_cases"),
    "outcomes": page("see_outcomes"),
    "outcomes-csv": page("see_outcomes"),
    "outcomes-definitions-csv": page("see_outcomes"),
    "outcomes-timing-csv": page("see_outcomes"),
    "outcomes-cases": page("see_cases"),
    "outcomes-case": page("see_cases"),
    "compare": page("see_outcomes"),
    "compare-csv": page("see_outcomes"),
    "following": page("see_outcomes"),
    "following-csv": page("see_outcomes"),
    "following-cases": page("see_cases"),
    "function": page("see_outcomes"),
    "function-csv": page("see_outcomes"),
    "function-cases": page("see_cases"),
    "agreement": page("see_agreement"),
    "agreement-csv": page("see_agreement"),
    "agreement-films": page("see_cases"),
    "enough": page("see_outcomes"),
    "enough-csv": page("see_outcomes"),
    "snapshots": page("see_outcomes"),
    "dataset": form("take_data"),
    "snapshots-refresh": act("see_outcomes", 302),
    "harms": page("see_outcomes"),
    "harms-csv": page("see_outcomes"),
    "harms-burden-csv": page("see_outcomes"),
    "harms-later-csv": page("see_outcomes"),
    "harms-hardware-csv": page("see_outcomes"),
    "literature": page("see_outcomes"),
    "literature-csv": page("see_outcomes"),
    "packs": page("see_outcomes"),
    "pack": page("see_outcomes"),
    "pack-ask": form("see_outcomes"),
    "pack-pages": page("see_outcomes"),
    "pack-tables": page("see_outcomes"),
    "pack-again": act("see_outcomes", 302),
    "meetings": page("see_outcomes"),
    "meeting": page("see_outcomes"),
    "meeting-add": form("keep_meetings"),
    "meetings-own": page("see_own_actions"),
    "meeting-correct": form("keep_meetings"),
    "meeting-decide": form("keep_meetings"),
    "decision": form("keep_meetings", of=({"decision_id": "meeting_decision_id"},)),
    "signals": page("see_signals"),
    "signals-csv": page("see_signals"),
    "signals-history": page("see_signals"),
    "signals-chart": page("see_signals"),
    "signals-chart-csv": page("see_signals"),
    "signals-design": form("settle_signals"),
    "signals-design-add": form("settle_signals"),
    "signals-look": form("settle_signals", of=({"subject": "=coding"},)),
    "signals-one": page("see_signals"),
    "signals-act": form("settle_signals", of=({"act": "=due"}, {"act": "=finding"})),
    "signals-check": form("settle_signals", of=({"subject": "=case_mix"},)),
}
# Everybody's own start and sign-in, whatever their role; no row of anybody's is named there.
FOR_ALL = {
    "home",
    "health",
    "account_login",
    "account_logout",
    "account_change_password",
    "account_signup",
    "account_reauthenticate",
    "account_inactive",
}
# What a patient opens with a link, whoever is signed in: the link is the right.
BY_LINK: dict[str, Row] = {"questionnaire": THIS, "questionnaire-open": {"link": "link"}}
# What a program reads by a secret address, whoever asks: the address is the right. It says no names.
BY_SECRET = {"calendar-feed"}
# Arguments that belong to no site: construct types are shared by all, tokens and kept views are a
# person's own.
SHARED = {"job", "type_id", "begins", "filter_id"}


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
    missing = sorted(pages - set(DOORS) - FOR_ALL - set(BY_LINK) - BY_SECRET)
    assert not missing, (
        f"{missing}: say in tests/test_access.py who may open it: add it to the table"
    )
    gone = sorted((set(DOORS) | FOR_ALL | set(BY_LINK) | BY_SECRET) - pages)
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
