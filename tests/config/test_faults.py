"""What is answered when the service itself is at fault."""

import json

from django.test import RequestFactory

from config.faults import server_error


def test_a_program_is_told_in_a_problem() -> None:
    answer = server_error(RequestFactory().get("/api/v1/patients/"))
    assert (answer.status_code, answer["Content-Type"]) == (500, "application/problem+json")
    assert json.loads(answer.content)["title"] == "Our fault"


def test_a_person_is_told_on_a_page() -> None:
    answer = server_error(RequestFactory().get("/due/"))
    assert answer.status_code == 500
    assert "Something went wrong on our side" in answer.content.decode()
