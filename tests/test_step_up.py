"""What reaches far asks once more who it is: which views do, and that nothing is lost by it."""

import ast
import inspect
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import get_resolver, reverse
from knox.models import AuthToken

from registry.models import Person, SignInEvent
from tests import builders
from tests.doors.analytics import DOORS as OF_ANALYTICS
from tests.doors.config import DOORS as OF_CONFIG
from tests.doors.followup import DOORS as OF_FOLLOWUP
from tests.doors.registry import DOORS as OF_REGISTRY
from tests.factored import (
    PASSWORD,
    code_now,
    give_code,
    give_password,
    with_authenticator,
    with_password,
)

pytestmark = pytest.mark.django_db
DOORS = {**OF_ANALYTICS, **OF_CONFIG, **OF_FOLLOWUP, **OF_REGISTRY}
# Besides every page of the right to take data, and every view that writes down that data were taken.
NAMED = {
    *("export-cases", "pack-pages", "pack-tables", "patient-access", "import-rejected"),
    *("due-csv", "due-xlsx", "calendar-make"),
    *("duplicates-merge", "duplicates-undo", "injury-move", "injury-side", "moves-undo"),
    *("operation-move-to", "operation-move-new", "trace-notice-pdf"),
    *("token-make", "setup-person-factors", "setup-person-tie", "session-end"),
    *("setup-site-add", "setup-person-add", "setup-person", "setup-role-grant", "setup-role-known"),
}
PERSON = "forms.ChangePersonForm"
TAKES = {"audit.record_taken", "case_export.write_down"}


def views() -> dict[str, Any]:
    """Return the function behind each named address of the rooms' pages."""
    patterns: dict[str, Any] = {}

    def walk(resolver: Any) -> None:
        for entry in resolver.url_patterns:
            if hasattr(entry, "url_patterns"):
                walk(entry)
            elif entry.name:
                patterns[entry.name] = entry.callback

    walk(get_resolver())
    return patterns


VIEWS = views()


def asks(name: str) -> bool:
    return bool(getattr(VIEWS[name], "asks_again", False))


def takers() -> Iterator[str]:
    """Yield the addresses whose view, itself or by what it calls in its module, writes down a taking."""
    yield from (name for name in VIEWS if name in DOORS and calls(name, TAKES))


def calls(name: str, wanted: set[str]) -> bool:
    """Say whether the view of an address names one of some attributes, itself or in its module."""
    plain = inspect.unwrap(VIEWS[name])
    tree = ast.parse(Path(inspect.getfile(plain)).read_text())
    functions = {node.name: node for node in tree.body if isinstance(node, ast.FunctionDef)}
    return _calls(plain.__name__, functions, wanted, set())


def _calls(
    name: str, functions: dict[str, ast.FunctionDef], wanted: set[str], seen: set[str]
) -> bool:
    if name in seen or name not in functions:
        return False
    seen.add(name)
    for node in ast.walk(functions[name]):
        if isinstance(node, ast.Attribute) and ast.unparse(node) in wanted:
            return True
        if isinstance(node, ast.Name) and _calls(node.id, functions, wanted, seen):
            return True
    return False


def test_every_page_of_the_right_to_take_data_asks() -> None:
    of_right = {name for name, door in DOORS.items() if "take_data" in (door.opens, door.sends)}
    assert of_right
    assert [name for name in sorted(of_right) if not asks(name)] == []


def test_every_view_that_writes_down_a_taking_asks() -> None:
    found = set(takers())
    assert {"dataset", "export-cases", "trace-csv"} <= found
    assert [name for name in sorted(found) if not asks(name)] == []


@pytest.mark.parametrize("name", sorted(NAMED))
def test_what_is_named_asks(name: str) -> None:
    assert asks(name)


def test_what_gives_an_account_or_a_role_asks_and_keeps_no_password() -> None:
    """Whatever view of a form with a password asks, and keeps nothing; no other view gives a role."""
    giving = {
        "service.add_person",
        "service.change_person",
        "service.grant_role",
        "service.add_site",
    }
    found = {name for name in VIEWS if name in DOORS and calls(name, giving)}
    assert found >= {"setup-person-add", "setup-person", "setup-role-grant", "setup-role-known"}
    assert [name for name in sorted(found) if not asks(name)] == []
    with_password_field = {name for name in found if calls(name, {"forms.PersonForm", PERSON})}
    assert with_password_field == {"setup-person-add", "setup-person"}
    assert not any(VIEWS[name].keeps_what_was_sent for name in with_password_field)


@pytest.fixture(autouse=True)
def clock(time_machine: Any) -> Any:
    cache.clear()
    time_machine.move_to(builders.NOW, tick=False)
    return time_machine


@pytest.fixture
def selma() -> Person:
    return with_password(builders.person("selma", north="surgeon"))


@pytest.fixture
def client_of_before(selma: Person, clock: Any) -> Client:
    """Somebody who signed in 20 minutes ago and is still at work."""
    client = Client()
    give_password(client, selma)
    clock.shift(timedelta(minutes=20))
    return client


def confirm(client: Client, wanted: str, password: str = PASSWORD) -> Any:
    return client.post(reverse("account_reauthenticate"), {"password": password, "next": wanted})


def test_just_signed_in_nobody_is_asked(selma: Person) -> None:
    client = Client()
    give_password(client, selma)
    assert client.post(reverse("token-make"), {"days": "30"}).status_code == 200


def test_what_was_sent_is_sent_after_confirming_and_not_before(client_of_before: Client) -> None:
    answer = client_of_before.post(reverse("token-make"), {"days": "30"})
    assert answer.headers["Location"].startswith(reverse("account_reauthenticate"))
    assert not AuthToken.objects.exists()
    assert (
        "not your password"
        in confirm(client_of_before, reverse("token-make"), "x").content.decode()
    )
    assert not AuthToken.objects.exists()
    page = confirm(client_of_before, reverse("token-make"))
    assert "Your new token" in page.content.decode()
    assert AuthToken.objects.count() == 1


def test_a_page_with_a_query_is_opened_again_with_it(client_of_before: Client) -> None:
    one, other = builders.patient().key, builders.patient().key
    address = f"{reverse('duplicates-merge')}?one={one}&other={other}"
    asked = client_of_before.get(address)
    assert asked.headers["Location"].startswith(reverse("account_reauthenticate"))
    page = client_of_before.get(asked.headers["Location"]).content.decode()
    assert "Confirm that it is you" in page
    assert confirm(client_of_before, address).headers["Location"] == address
    assert client_of_before.get(address).status_code == 200


def test_a_form_that_was_filled_in_for_too_long_is_not_lost(selma: Person, clock: Any) -> None:
    client = Client()
    give_password(client, selma)
    one, other = builders.patient(), builders.patient()
    address = f"{reverse('duplicates-merge')}?one={one.key}&other={other.key}"
    assert client.get(address).status_code == 200
    clock.shift(timedelta(minutes=16))
    asked = client.post(address, {"reason": "typed with care"})
    assert asked.headers["Location"].startswith(reverse("account_reauthenticate"))
    page = confirm(client, reverse("duplicates-merge")).content.decode()
    # The form's own answer to what was typed, which lacks the versions.
    assert "typed with care" in page


def test_confirming_lasts_its_minutes_and_is_written_down(
    client_of_before: Client, selma: Person, clock: Any
) -> None:
    client_of_before.post(reverse("token-make"), {"days": "1"})
    confirm(client_of_before, reverse("token-make"))
    clock.shift(timedelta(minutes=14))
    assert client_of_before.post(reverse("token-make"), {"days": "1"}).status_code == 200
    clock.shift(timedelta(minutes=1))
    assert client_of_before.post(reverse("token-make"), {"days": "1"}).status_code == 302
    assert SignInEvent.objects.filter(kind="step_up", person=selma).count() == 1


def test_the_second_factor_confirms_as_well(selma: Person, clock: Any) -> None:
    with_authenticator(selma)
    client = Client()
    give_password(client, selma)
    give_code(client, code_now())
    clock.shift(timedelta(minutes=20))
    client.post(reverse("token-make"), {"days": "1"})
    sent = {"code": code_now(), "next": reverse("token-make")}
    assert "Your new token" in client.post(reverse("mfa_reauthenticate"), sent).content.decode()


def test_changing_a_factor_asks(client_of_before: Client) -> None:
    for name in ("mfa_activate_totp", "mfa_add_webauthn"):
        answer = client_of_before.get(reverse(name))
        assert answer.headers["Location"].startswith(reverse("account_reauthenticate"))


def test_a_guesser_at_an_open_session_waits_and_nothing_leads_elsewhere(
    client_of_before: Client,
) -> None:
    for _ in range(5):
        confirm(client_of_before, reverse("token-make"), "wrong")
    assert "too many tries" in confirm(client_of_before, reverse("token-make")).content.decode()
    away = "https://elsewhere.example/"
    page = client_of_before.get(reverse("account_reauthenticate"), {"next": away})
    assert page.status_code == 200


def test_copies_in_fhir_are_not_asked_for_by_a_session_of_before(clock: Any) -> None:
    lead = with_password(builders.person("quentin", north="quality_lead"))
    client = Client()
    give_password(client, lead)
    headers = {"Prefer": "respond-async"}
    assert client.get("/fhir/r4/$export", headers=headers).status_code == 202
    clock.shift(timedelta(minutes=20))
    refused = client.get("/fhir/r4/$export", headers=headers)
    assert refused.status_code == 403
    assert "Confirm in the browser" in refused.content.decode()


def test_a_role_is_given_after_confirming_and_a_password_is_typed_again(clock: Any) -> None:
    administrator = with_password(builders.person("ada", north="administrator"))
    builders.person("selma", north="surgeon")
    client = Client()
    give_password(client, administrator)
    clock.shift(timedelta(minutes=20))
    selma = Person.objects.get(username="selma")
    grant = reverse("setup-role-grant", args=[selma.pk])
    role = {"site": builders.site().pk, "role": "film_reader", "starts_on": "2026-11-25"}
    assert client.post(grant, role).status_code == 302
    assert not selma.memberships.filter(role="film_reader").exists()
    confirm(client, grant)
    assert selma.memberships.filter(role="film_reader").exists()

    clock.shift(timedelta(minutes=20))
    where = reverse("setup-person", args=[selma.pk])
    sent = {
        **{"version": "1", "shown_name": "Selma", "is_active": "on"},
        "password": "correct horse battery",
    }
    assert client.post(where, sent).status_code == 302
    kept = "".join(str(value) for value in client.session.values())
    assert "correct horse" not in kept
    answer = client.post(
        reverse("account_reauthenticate"), {"password": PASSWORD, "next": where}, follow=True
    )
    assert "Fill in the form once more" in answer.content.decode()
    selma.refresh_from_db()
    assert not selma.check_password("correct horse battery")
    client.post(where, sent)
    selma.refresh_from_db()
    assert selma.check_password("correct horse battery")


def test_confirming_gives_the_session_another_name_and_ends_none(client_of_before: Client) -> None:
    former = client_of_before.session.session_key
    client_of_before.post(reverse("token-make"), {"days": "1"})
    assert "Your new token" in confirm(client_of_before, reverse("token-make")).content.decode()
    present = client_of_before.session.session_key
    assert present != former
    assert client_of_before.get(reverse("account")).context["sessions"][0].is_this
    planted = Client(headers={"Cookie": f"sessionid={former}"})
    assert planted.get(reverse("account")).status_code == 302


def test_signing_out_clears_what_the_browser_keeps(client_of_before: Client) -> None:
    answer = client_of_before.post(reverse("account_logout"))
    assert answer.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert "Clear-Site-Data" not in client_of_before.get(reverse("account_login")).headers
