"""Signing in through the page: who is let in, who waits, what is said and what is written down."""

from datetime import timedelta
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import MD5PasswordHasher
from django.test import Client
from django.urls import reverse

from registry.models import Person, SignInEvent
from tests import builders

pytestmark = pytest.mark.django_db
PASSWORD = "gravel kettle lantern"
HOME, AWAY = "192.0.2.10", "203.0.113.66"
WRONG, WAIT = "do not fit together", "too many tries"


@pytest.fixture(autouse=True)
def clock(time_machine: Any) -> Any:
    time_machine.move_to(builders.NOW, tick=False)
    return time_machine


@pytest.fixture
def selma() -> Person:
    person = builders.person("selma", north="surgeon")
    person.set_password(PASSWORD)
    person.save()
    return person


def at(address: str = HOME) -> Client:
    """Return a browser at an address."""
    return Client(REMOTE_ADDR=address, HTTP_USER_AGENT="Mozilla/5.0 (X11; Linux) Firefox/140.0")


def sign_in(browser: Client, password: str = PASSWORD, name: str = "selma", **sent: Any) -> Any:
    return browser.post(reverse("account_login"), {"login": name, "password": password}, **sent)


def said(answer: Any) -> str:
    """Return what a sign-in came to: '' where somebody was let in."""
    return "" if answer.status_code == 302 else str(answer.content.decode())


def guess(times: int, browser: Client, name: str = "selma") -> Any:
    for number in range(times):
        answer = sign_in(browser, f"wrong password {number}", name)
    return answer


@pytest.mark.usefixtures("selma")
def test_somebody_who_guesses_waits_longer_and_longer(clock: Any) -> None:
    guesser = at(AWAY)
    assert WRONG in said(guess(5, guesser))
    assert "Wait 15 seconds" in said(sign_in(guesser))
    clock.shift(timedelta(seconds=15))
    assert WRONG in said(guess(1, guesser))
    assert "Wait 30 seconds" in said(sign_in(guesser))
    clock.shift(timedelta(seconds=30))
    assert said(sign_in(guesser)) == ""


@pytest.mark.usefixtures("selma")
def test_whoever_guesses_shuts_nobody_else_out() -> None:
    guess(30, at(AWAY))
    assert WAIT in said(sign_in(at(AWAY)))
    assert said(sign_in(at(HOME))) == ""


@pytest.mark.usefixtures("selma")
def test_guessing_from_everywhere_never_shuts_out_the_persons_own_browser(clock: Any) -> None:
    own = at(HOME)
    assert said(sign_in(own)) == ""
    own.post(reverse("account_logout"))
    for number in range(60):
        guess(1, at(f"198.51.100.{number}"))
    assert WAIT in said(sign_in(at("203.0.113.200")))
    # At home, on the road, and behind the guesser's own address.
    for address in (HOME, "203.0.113.99", "198.51.100.1"):
        own.defaults["REMOTE_ADDR"] = address
        assert said(sign_in(own)) == ""
        own.post(reverse("account_logout"))


@pytest.mark.usefixtures("selma")
def test_a_browser_that_is_known_for_somebody_is_not_known_for_others() -> None:
    builders.person("connie", north="coordinator")
    own = at(AWAY)
    sign_in(own)
    own.post(reverse("account_logout"))
    guess(5, own, "connie")
    assert WAIT in said(sign_in(own, name="connie"))
    assert said(sign_in(own)) == ""


@pytest.mark.usefixtures("selma")
def test_a_made_up_mark_of_a_browser_counts_for_nothing() -> None:
    guess(5, at(HOME))
    forged = at(HOME)
    forged.cookies["known_device"] = "eyJhIjoiYiJ9:1tabcd:made-up"
    assert WAIT in said(sign_in(forged))


@pytest.mark.usefixtures("selma")
def test_behind_our_proxy_the_address_is_what_the_proxy_saw(settings: Any) -> None:
    settings.PROXIES = 1
    proxy = "10.0.0.1"
    for number in range(5):
        passed = f"198.51.100.{number}, {AWAY}"
        sign_in(at(proxy), "wrong password", HTTP_X_FORWARDED_FOR=passed)
    assert WAIT in said(sign_in(at(proxy), HTTP_X_FORWARDED_FOR=f"192.0.2.77, {AWAY}"))
    assert said(sign_in(at(proxy), HTTP_X_FORWARDED_FOR=HOME)) == ""


@pytest.mark.usefixtures("selma")
def test_without_a_proxy_what_is_said_to_be_passed_on_counts_for_nothing(settings: Any) -> None:
    settings.PROXIES = 0
    for number in range(5):
        sign_in(at(AWAY), "wrong password", HTTP_X_FORWARDED_FOR=f"198.51.100.{number}")
    assert WAIT in said(sign_in(at(AWAY), HTTP_X_FORWARDED_FOR="198.51.100.99"))


@pytest.mark.usefixtures("selma")
def test_an_unknown_name_is_answered_and_made_to_wait_as_a_known_one() -> None:
    def plain(answer: Any) -> list[str]:
        text = answer.content.decode()
        return [line for line in text.splitlines() if "csrf" not in line.lower()]

    for tries in range(8):
        known = plain(sign_in(at(HOME), "wrong password", "selma"))
        unknown = plain(sign_in(at(AWAY), "wrong password", "nonesuch"))
        same = [line.replace("nonesuch", "selma") for line in unknown]
        assert same == known, f"after {tries} tries"


@pytest.mark.usefixtures("selma")
def test_an_unknown_name_costs_as_much_as_a_wrong_password(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hashed: list[str] = []
    plain = MD5PasswordHasher.encode

    def counted(self: Any, password: str, salt: str) -> str:
        hashed.append(password)
        return str(plain(self, password, salt))

    monkeypatch.setattr(MD5PasswordHasher, "encode", counted)
    costs = []
    for name in ("selma", "nonesuch"):
        hashed.clear()
        sign_in(at(HOME), "wrong password", name)
        costs.append(len(hashed))
    assert costs == [1, 1]


def test_while_waiting_no_password_is_looked_at(
    selma: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    guess(5, at(AWAY))
    monkeypatch.setattr(Person, "check_password", lambda *given: pytest.fail("looked at"))
    assert WAIT in said(sign_in(at(AWAY)))


def test_what_happens_at_the_door_is_written_down_without_what_was_typed(selma: Person) -> None:
    guess(5, at(AWAY))
    sign_in(at(AWAY), "secret", "my secret password")
    sign_in(at(HOME))
    Person.objects.filter(pk=selma.pk).update(is_active=False)
    sign_in(at("192.0.2.99"))
    events = list(SignInEvent.objects.order_by("pk"))
    assert [(one.kind, one.person) for one in events] == [
        *[("failed", selma)] * 4,
        ("held", selma),
        ("failed", None),
        ("in", selma),
        ("refused", selma),
    ]
    assert (events[-2].address, events[-2].browser) == (HOME, "Firefox on Linux")
    kept = " ".join(str(value) for one in SignInEvent.objects.values() for value in one.values())
    assert "secret" not in kept
    assert "wrong password" not in kept


def test_nobody_signs_up(selma: Person) -> None:
    page = at().post(reverse("account_signup"), {"username": "new", "password1": PASSWORD})
    assert page.status_code == 200
    assert not Person.objects.filter(username="new").exists()
    assert not EmailAddress.objects.exists()


def change(browser: Client, old: str = PASSWORD, new: str = "plum saddle window") -> Any:
    sent = {"oldpassword": old, "password1": new, "password2": new}
    return browser.post(reverse("account_change_password"), sent)


def test_a_new_password_asks_for_the_present_one_and_ends_all_other_sessions(
    selma: Person,
) -> None:
    here, elsewhere = at(HOME), at(AWAY)
    sign_in(here)
    sign_in(elsewhere)
    assert change(here, old="not the present one").status_code == 200
    assert change(here).headers["Location"] == reverse("home")
    selma.refresh_from_db()
    assert selma.check_password("plum saddle window")
    assert here.get(reverse("clinic")).status_code == 200
    answer = elsewhere.get(reverse("clinic"))
    assert answer.headers["Location"].startswith(reverse("account_login"))
    assert SignInEvent.objects.filter(kind="password", person=selma).count() == 1


@pytest.mark.parametrize("new", [PASSWORD, "password1234", "short"])
def test_a_new_password_that_cannot_be_taken_is_refused(selma: Person, new: str) -> None:
    browser = at()
    sign_in(browser)
    page = change(browser, new=new).content.decode()
    assert "Nothing was saved yet" in page
    selma.refresh_from_db()
    assert selma.check_password(PASSWORD)
