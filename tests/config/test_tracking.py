"""Each request has a number, in its answer and in the log; what was asked in it is in neither."""

import json
import logging
from typing import Any

import pytest
from django.test import Client

from config import logs
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def written(caplog: pytest.LogCaptureFixture) -> pytest.LogCaptureFixture:
    caplog.handler.setFormatter(logs.objects())
    caplog.set_level(logging.DEBUG, logger="django_structlog")
    caplog.set_level(logging.DEBUG, logger="config.tracking")
    return caplog


def said(written: pytest.LogCaptureFixture) -> list[dict[str, Any]]:
    return [json.loads(line) for line in written.text.splitlines() if line.startswith("{")]


def test_the_number_of_a_request_is_in_its_answer_and_its_events(
    client: Client, written: pytest.LogCaptureFixture
) -> None:
    person = builders.person("connie", north="coordinator")
    client.force_login(person)
    answer = client.get("/patients/?q=Testfamily")
    number = answer.headers["X-Request-ID"]
    events = [event for event in said(written) if event.get("request_id") == number]
    ended = next(event for event in events if event["event"] == "request_finished")
    assert ended["request"] == "GET patients"
    assert ended["user_id"] == person.pk
    assert ended["code"] == 200
    assert "Testfamily" not in written.text


def test_two_requests_have_two_numbers_and_a_sent_one_is_not_believed(client: Client) -> None:
    numbers = {
        client.get("/health/", headers={"X-Request-ID": "mine"}).headers["X-Request-ID"]
        for _ in range(2)
    }
    assert len(numbers) == 2
    assert "mine" not in numbers
