"""The second factor: asked for after the password, needed by role, good once."""

import re
import time
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Person, SignInEvent
from tests import builders
from tests.factored import (
    PASSWORD,
    SECRET,
    code_at,
    code_now,
    factors,
    give_code,
    give_password,
    with_authenticator,
    with_password,
    with_recovery_codes,
)

pytestmark = pytest.mark.django_db
# RFC 6238, appendix B, SHA-1; the last six of the eight digits, as authenticators show.
VECTORS = {
    59: "94287082",
    1111111109: "07081804",
    1111111111: "14050471",
    1234567890: "89005924",
    2000000000: "69279037",
    20000000000: "65353130",
}


@pytest.fixture(autouse=True)
def clock(time_machine: Any) -> Any:
    """Let the time stand: a code lasts half a minute. None was used before, none was wrong."""
    cache.clear()
    time_machine.move_to(builders.NOW, tick=False)
    return time_machine


@pytest.fixture
def selma() -> Person:
    return with_authenticator(builders.person("selma", north="surgeon"))


def is_in(client: Client) -> bool:
    return client.get(reverse("account")).status_code == 200


@pytest.mark.parametrize(("moment", "digits"), VECTORS.items())
def test_the_published_codes_sign_in_at_their_moment(
    selma: Person, clock: Any, moment: int, digits: str
) -> None:
    clock.move_to(datetime.fromtimestamp(moment, tz=UTC), tick=False)
    client = Client()
    assert give_password(client, selma).headers["Location"] == reverse("mfa_authenticate")
    assert not is_in(client)
    assert give_code(client, digits[-6:]).status_code == 302
    assert is_in(client)


def test_the_password_alone_opens_nothing(selma: Person) -> None:
    client = Client()
    give_password(client, selma)
    for name in ("home", "clinic", "account", "mfa_index", "account_change_password"):
        assert client.get(reverse(name)).headers["Location"].startswith(reverse("account_login"))


@pytest.mark.parametrize("code", ["000000", "", "12345", "abcdef", "' or 1=1"])
def test_a_wrong_code_is_refused_in_words_and_written_down(selma: Person, code: str) -> None:
    client = Client()
    give_password(client, selma)
    page = give_code(client, code)
    assert page.status_code == 200
    assert "You are not signed in yet" in page.content.decode()
    assert not is_in(client)
    assert SignInEvent.objects.filter(kind="code", person=selma).count() == bool(code)


def test_a_code_of_before_and_one_used_already_are_refused(selma: Person, clock: Any) -> None:
    old = code_at(time.time() - 60)
    first, second = Client(), Client()
    for client in (first, second):
        give_password(client, selma)
    assert give_code(first, old).status_code == 200
    assert give_code(first, code_now()).status_code == 302
    assert give_code(second, code_now()).status_code == 200
    clock.shift(timedelta(seconds=30))
    assert give_code(second, code_now()).status_code == 302


def test_codes_are_not_guessed_at_for_ever(selma: Person, clock: Any) -> None:
    client = Client()
    give_password(client, selma)
    for number in range(10):
        give_code(client, f"{number:06}")
    assert "too many wrong codes" in give_code(client, code_now()).content.decode()
    assert not is_in(client)
    clock.shift(timedelta(minutes=6))
    assert give_code(client, code_now()).status_code == 302


def test_each_recovery_code_is_good_once(selma: Person) -> None:
    codes = with_recovery_codes(selma)
    assert len(set(codes)) == 10
    for code in codes:
        client = Client()
        give_password(client, selma)
        assert give_code(client, code).status_code == 302
        assert is_in(client)
    for code in codes:
        client = Client()
        give_password(client, selma)
        assert give_code(client, code).status_code == 200


def test_an_authenticator_is_set_up_with_a_code_of_its_own(
    django_capture_on_commit_callbacks: Any,
) -> None:
    person = with_password(builders.person("selma", north="surgeon"))
    client = Client()
    give_password(client, person)
    page = client.get(reverse("mfa_activate_totp")).content.decode()
    assert 'src="data:image/svg+xml;base64,' in page
    assert "<script>" not in page
    secret = re.findall(r'<code class="secret">([A-Z2-7]+)</code>', page)[0]
    refused = client.post(reverse("mfa_activate_totp"), {"code": "000000"})
    assert "not the code of now" in refused.content.decode()
    assert factors(person) == []
    secret = re.findall(r'<code class="secret">([A-Z2-7]+)</code>', refused.content.decode())[0]
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(reverse("mfa_activate_totp"), {"code": code_now(secret)})
    assert answer.headers["Location"] == reverse("mfa_view_recovery_codes")
    assert factors(person) == ["recovery_codes", "totp"]
    shown = client.get(reverse("mfa_view_recovery_codes")).content.decode()
    assert len(re.findall(r"<code>\d{8}</code>", shown)) == 10
    again = client.get(reverse("mfa_view_recovery_codes")).content.decode()
    assert not re.findall(r"<code>\d{8}</code>", again)
    assert SignInEvent.objects.filter(kind="added", person=person).count() == 1


def test_new_recovery_codes_end_the_old_ones(
    selma: Person, django_capture_on_commit_callbacks: Any
) -> None:
    old = with_recovery_codes(selma)
    client = Client()
    give_password(client, selma)
    give_code(client, code_now())
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("mfa_generate_recovery_codes"))
    other = Client()
    give_password(other, selma)
    assert give_code(other, old[0]).status_code == 200
    assert SignInEvent.objects.filter(kind="codes", person=selma).count() == 1


def test_no_secret_stands_readable_in_the_database(selma: Person) -> None:
    codes = with_recovery_codes(selma)
    kept = " ".join(str(row.data) for row in Authenticator.objects.all())
    assert SECRET not in kept
    assert not [code for code in codes if code in kept]


@pytest.mark.parametrize(
    "name", ["home", "clinic", "interface", "account", "account_change_password"]
)
def test_a_role_that_needs_a_factor_reaches_nothing_without_one(settings: Any, name: str) -> None:
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    client = Client()
    client.force_login(builders.person("selma", north="surgeon+coordinator"))
    assert client.get(reverse(name)).headers["Location"] == reverse("mfa_index")
    made = client.post(reverse("token-make"), {"days": "30"})
    assert made.headers["Location"] == reverse("mfa_index")
    assert client.get("/api/v1/patients/").status_code == 403
    page = client.get(reverse("mfa_index")).content.decode()
    assert "Your role needs a second factor" in page
    assert reverse("clinic") not in page


def test_a_role_that_needs_none_is_not_asked(settings: Any) -> None:
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    client = Client()
    client.force_login(builders.person("connie", north="coordinator"))
    assert client.get(reverse("due")).status_code == 200


def test_whoever_sets_one_up_comes_in_and_is_held_again_without_it(
    settings: Any, django_capture_on_commit_callbacks: Any
) -> None:
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    person = with_password(builders.person("selma", north="surgeon"))
    client = Client()
    give_password(client, person)
    page = client.get(reverse("mfa_activate_totp")).content.decode()
    secret = re.findall(r'<code class="secret">([A-Z2-7]+)</code>', page)[0]
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("mfa_activate_totp"), {"code": code_now(secret)})
    assert client.get(reverse("clinic")).status_code == 200
    client.post(reverse("mfa_deactivate_totp"))
    assert factors(person) == []
    assert client.get(reverse("clinic")).headers["Location"] == reverse("mfa_index")
    kinds = SignInEvent.objects.filter(person=person).order_by("pk").values_list("kind", flat=True)
    assert list(kinds) == ["in", "added", "removed", "removed"]


def test_whoever_lost_it_signs_in_after_an_administrator_removed_it(
    selma: Person, administrator: Person
) -> None:
    boss, own = Client(), Client()
    boss.force_login(administrator)
    give_password(own, selma)
    give_code(own, code_now())
    where = reverse("setup-person-factors", args=[selma.pk])
    assert "Say why" not in boss.get(where).content.decode()
    assert boss.post(where, {"reason": " "}).status_code == 200
    assert factors(selma) == ["totp"]
    boss.post(where, {"reason": "Phone in the lake; seen in person with her badge"})
    assert factors(selma) == []
    assert not is_in(own)
    assert give_password(own, selma).headers["Location"] == reverse("home")


def test_a_password_is_the_first_thing_that_is_changed(settings: Any) -> None:
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    person = with_password(builders.person("selma", north="surgeon"))
    Person.objects.update(must_change_password=True)
    client = Client()
    give_password(client, person, PASSWORD)
    held = reverse("account_change_password")
    for name in ("clinic", "mfa_index", "mfa_activate_totp"):
        assert client.get(reverse(name)).headers["Location"] == held
