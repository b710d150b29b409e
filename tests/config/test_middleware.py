"""What every request passes before and after its page."""

from io import BytesIO
from typing import Any

import pytest
from django.test import Client

from tests import builders

pytestmark = pytest.mark.django_db


def test_a_request_that_is_too_large_is_refused_in_words_before_it_is_read(
    client: Client, settings: Any
) -> None:
    settings.REQUEST_MOST_MB = 1
    client.force_login(builders.person("connie", north="coordinator"))
    sent = BytesIO(b"x" * 10)
    unread = {"CONTENT_LENGTH": "1000001", "wsgi.input": sent}
    answer = client.generic("POST", "/import/", b"", **unread)
    assert answer.status_code == 413
    assert answer.content == b"At most 1 MB are taken at once. Send fewer or smaller files."
    assert sent.tell() == 0
    assert client.generic("POST", "/import/", b"", CONTENT_LENGTH="nonsense").status_code == 413


def test_no_browser_keeps_a_page_with_patients(client: Client) -> None:
    client.force_login(builders.person("connie", north="coordinator"))
    assert client.get("/patients/?q=x").headers["Cache-Control"] == "no-store, private"
    assert "no-store" in client.get("/api/v1/patients/").headers["Cache-Control"]


def test_a_device_s_parts_are_not_to_be_had_but_for_the_camera(client: Client) -> None:
    policy = client.get("/account/sign-in/").headers["Permissions-Policy"]
    assert "camera=(self)" in policy
    assert "geolocation=()" in policy
    assert "microphone=()" in policy


@pytest.mark.parametrize("address", ["/api/v1/patients/", "/fhir/r4/metadata"])
def test_a_program_that_asks_in_the_clear_is_refused_and_not_led_on(
    client: Client, settings: Any, address: str
) -> None:
    settings.SECURE_SSL_REDIRECT = True
    answer = client.get(address)
    assert answer.status_code == 403
    assert b"by https alone" in answer.content
    assert client.get(address, secure=True).status_code != 403
