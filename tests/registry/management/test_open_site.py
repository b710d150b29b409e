"""The first site and its first administrator, by command."""

import io
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from registry.models import AuditEntry, Membership, Person, Site
from registry.selectors.visible import may
from tests import builders

pytestmark = pytest.mark.django_db
GOOD = "correct horse battery"


class Terminal(io.StringIO):
    """An input at which somebody sits."""

    def isatty(self) -> bool:
        return True


def run(
    monkeypatch: pytest.MonkeyPatch, *more: str, code: str = "north", piped: str = GOOD + "\n"
) -> str:
    out = io.StringIO()
    monkeypatch.setattr("sys.stdin", io.StringIO(piped))
    call_command("open_site", code, "North Hospital", "--administrator", "ada", *more, stdout=out)
    return out.getvalue()


def test_a_fresh_service_gets_a_site_and_somebody_who_can_set_it_up(
    monkeypatch: pytest.MonkeyPatch, client: Client
) -> None:
    told = run(monkeypatch, "--shown-name", "Ada Admin", "--time-zone", "Europe/Berlin")
    assert told == "Added: North Hospital. ada administers it and signs in now.\n"
    ada = Person.objects.get()
    assert may(ada, "set_up")
    assert (str(ada), ada.check_password(GOOD), ada.must_change_password) == (
        *("Ada Admin", True, False),
    )
    assert (ada.is_superuser, ada.is_staff) == (False, False)
    assert Site.objects.get().time_zone == "Europe/Berlin"
    client.force_login(ada)
    assert client.get(reverse("setup-people")).status_code == 200
    reasons = AuditEntry.objects.filter(
        table__in=["registry_site", "registry_person", "registry_membership"]
    ).values_list("reason", flat=True)
    assert set(reasons) == {"a site and its administrator, from the command line"}
    assert len(reasons) == 3


def test_somebody_who_is_there_gets_the_role_and_keeps_the_password(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    Person.objects.create_superuser("Ada", password=GOOD)
    run(monkeypatch, piped="")
    ada = Person.objects.get()
    assert ada.check_password(GOOD)
    assert may(ada, "set_up")


@pytest.mark.parametrize(
    ("piped", "more", "said"),
    [
        ("short\n", (), "First password: .*12"),
        ("", (), "First password: "),
        ("ada-ada-ada-ada\n", ("--shown-name", "ada-ada-ada-ada"), "First password: "),
        (GOOD, ("--time-zone", "Mars/North"), "Time zone: "),
        (GOOD, ("--email", "nowhere"), "E-mail: "),
    ],
)
def test_what_cannot_be_taken_is_told_and_nothing_is_saved(
    monkeypatch: pytest.MonkeyPatch, piped: str, more: tuple[str, ...], said: str
) -> None:
    with pytest.raises(CommandError, match=rf"^Nothing was saved\. {said}"):
        run(monkeypatch, *more, piped=piped)
    assert not Person.objects.exists()
    assert not Site.objects.exists()


def test_a_site_that_is_there_is_left_alone_and_another_may_be_opened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    builders.site(name="North")
    with pytest.raises(CommandError, match=r"^Nothing was saved\. code: Site with this Code"):
        run(monkeypatch)
    assert not Person.objects.exists()
    run(monkeypatch, code="west")
    assert Membership.objects.get().site.code == "west"


def test_whoever_may_not_sign_in_administers_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    Person.objects.create_user("ada", password=GOOD, is_active=False)
    with pytest.raises(CommandError, match="may not sign in"):
        run(monkeypatch)
    assert not Site.objects.exists()


def test_at_a_terminal_the_password_is_asked_for_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter([GOOD, "mistyped"])
    given: dict[str, Any] = {"administrator": "ada", "stdout": io.StringIO()}
    monkeypatch.setattr("sys.stdin", Terminal())
    monkeypatch.setattr(
        "registry.management.commands.open_site.getpass", lambda question: next(answers)
    )
    with pytest.raises(CommandError, match="not the same"):
        call_command("open_site", "north", "North Hospital", **given)
    answers = iter([GOOD, GOOD])
    call_command("open_site", "north", "North Hospital", **given)
    assert Person.objects.get().check_password(GOOD)
