"""The secrets of second factors: encrypted at rest, and their key can be changed."""

from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.test import Client

from config.sign_in import secrets
from registry.models import Person
from tests import builders
from tests.factored import (
    code_now,
    give_code,
    give_password,
    with_authenticator,
    with_recovery_codes,
)

pytestmark = pytest.mark.django_db
OLD, NEW = "old " * 20, "new " * 20


@pytest.fixture(autouse=True)
def clock(time_machine: Any) -> Any:
    """Let the time stand: a code lasts half a minute. None was used before, none was wrong."""
    cache.clear()
    time_machine.move_to(builders.NOW, tick=False)
    return time_machine


@pytest.fixture
def selma(settings: Any) -> Person:
    settings.SECRET_KEY = OLD
    person = with_authenticator(builders.person("selma", north="surgeon"))
    with_recovery_codes(person)
    return person


def comes_in(person: Person) -> bool:
    client = Client()
    give_password(client, person)
    return give_code(client, code_now()).status_code == 302


def test_what_is_kept_is_opened_by_its_key_alone(settings: Any) -> None:
    settings.SECRET_KEY = OLD
    kept = secrets.encrypt("a secret")
    assert "a secret" not in kept
    assert kept != secrets.encrypt("a secret")
    assert secrets.decrypt(kept) == "a secret"
    settings.SECRET_KEY = NEW
    with pytest.raises(secrets.SecretUnreadable, match="administrator"):
        secrets.decrypt(kept)


def test_what_was_tampered_with_is_refused(settings: Any) -> None:
    kept = secrets.encrypt("a secret")
    with pytest.raises(secrets.SecretUnreadable):
        secrets.decrypt(kept[:-8] + "AAAAAAA=")


def test_a_former_key_still_opens_until_the_secrets_are_renewed(
    selma: Person, settings: Any
) -> None:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    assert secrets.renew() == 2
    settings.SECRET_KEY_FALLBACKS = []
    assert comes_in(selma)


def test_with_the_former_key_named_people_sign_in_as_before(selma: Person, settings: Any) -> None:
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    assert comes_in(selma)


def test_without_the_former_key_the_page_says_what_to_do(selma: Person, settings: Any) -> None:
    settings.SECRET_KEY = NEW
    client = Client()
    give_password(client, selma)
    page = give_code(client, code_now())
    assert page.status_code == 400
    assert "Ask an administrator" in page.content.decode()


def test_the_command_changes_nothing_without_the_former_key(
    selma: Person, settings: Any, capsys: Any
) -> None:
    settings.SECRET_KEY = NEW
    with pytest.raises(CommandError, match="FALLBACKS"):
        call_command("renew_factor_secrets")
    settings.SECRET_KEY = OLD
    assert comes_in(selma)
    call_command("renew_factor_secrets")
    assert "2 secrets" in capsys.readouterr().out
