"""What is answered when the service itself is at fault."""

import json
from unittest import mock

import pytest
from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.backends.db import SessionStore
from django.test import Client, RequestFactory

from config.faults import server_error
from tests import builders


def test_a_program_is_told_in_a_problem() -> None:
    answer = server_error(RequestFactory().get("/api/v1/patients/"))
    assert (answer.status_code, answer["Content-Type"]) == (500, "application/problem+json")
    assert json.loads(answer.content)["title"] == "Our fault"


def test_a_person_is_told_on_a_page() -> None:
    answer = server_error(RequestFactory().get("/due/"))
    assert answer.status_code == 500
    assert "Something went wrong on our side" in answer.content.decode()


@pytest.mark.django_db
def test_a_session_that_cannot_be_written_is_told_as_an_interruption_and_not_as_a_bad_request() -> (
    None
):
    client = Client()
    client.force_login(builders.person("connie", north="coordinator"))
    with mock.patch.object(SessionStore, "save", side_effect=UpdateError):
        answer = client.post("/find/", {"q": "Quill"})
    assert answer.status_code == 503
    assert "may have been saved: look before you send it again" in answer.content.decode()


@pytest.mark.django_db
def test_a_request_that_nobody_can_read_is_still_a_bad_one() -> None:
    answer = Client().get("/", headers={"host": "somewhere.example"})
    assert answer.status_code == 400
    assert "That request could not be read" in answer.content.decode()
