"""The browsers in which somebody has signed in before."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from config.sign_in import known_devices
from tests.builders import NOW

pytestmark = pytest.mark.either_engine


@pytest.fixture(autouse=True)
def clock(time_machine: Any) -> Any:
    time_machine.move_to(NOW, tick=False)
    return time_machine


def browser(cookie: str = "") -> Any:
    request = RequestFactory().get("/")
    request.COOKIES[known_devices.COOKIE] = cookie
    return request


def remembered(cookie: str, name: str) -> Any:
    answer = HttpResponse()
    known_devices.remember(browser(cookie), answer, name)
    return answer.cookies[known_devices.COOKIE]


def test_a_browser_is_known_for_the_name_alone_that_signed_in_there() -> None:
    cookie = remembered("", "selma").value
    assert known_devices.mark_of(browser(cookie), "SELMA ")
    assert not known_devices.mark_of(browser(cookie), "connie")
    assert not known_devices.mark_of(browser(), "selma")
    # The first letter of the tag: the last one has bits that decoding passes over.
    signed, _, tag = cookie.rpartition(":")
    forged = f"{signed}:{'B' if tag[0] == 'A' else 'A'}{tag[1:]}"
    assert not known_devices.mark_of(browser(forged), "selma")


def test_signing_in_again_keeps_the_mark_and_another_browser_has_another() -> None:
    cookie = remembered("", "selma").value
    mark = known_devices.mark_of(browser(cookie), "selma")
    assert known_devices.mark_of(browser(remembered(cookie, "selma").value), "selma") == mark
    assert known_devices.mark_of(browser(remembered("", "selma").value), "selma") != mark


def test_a_shared_browser_is_known_for_the_last_eight() -> None:
    cookie = ""
    for number in range(9):
        cookie = remembered(cookie, f"name{number}").value
    known = [bool(known_devices.mark_of(browser(cookie), f"name{n}")) for n in range(9)]
    assert known == [False, *[True] * 8]


def test_a_mark_is_forgotten_in_the_end(clock: Any, settings: Any) -> None:
    cookie = remembered("", "selma").value
    clock.shift(timedelta(seconds=settings.KNOWN_DEVICE_SECONDS + 1))
    assert not known_devices.mark_of(browser(cookie), "selma")


def test_no_script_reads_the_cookie_and_it_names_nobody(settings: Any) -> None:
    settings.SESSION_COOKIE_SECURE = True
    cookie = remembered("", "selma")
    assert cookie["httponly"]
    assert cookie["secure"]
    assert cookie["samesite"] == "Lax"
    assert "selma" not in cookie.value
