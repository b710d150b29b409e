"""The door for a provider that hands on what patients answered."""

from typing import Any

import pytest

from followup.models import Reply
from registry.models import Person
from tests import builders
from tests.api import Program, signed_in
from tests.outbox import policy, reminder

pytestmark = pytest.mark.usefixtures("defaults")
SECRET = "a long secret that only the provider of messages knows"
URL = "/api/v1/replies/north/"
SENT = {"key": "m-1", "from": "0555 010 200", "text": "STOP"}


@pytest.fixture(autouse=True)
def at_nine(time_machine: Any, settings: Any) -> None:
    time_machine.move_to(builders.NOW)
    settings.REPLY_SECRET = SECRET


def post(sent: dict[str, str], secret: str = SECRET, url: str = URL) -> Any:
    program = Program()
    program.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return program.post(url, sent)


def test_an_answer_is_kept_and_says_nothing_of_anybody() -> None:
    policy()
    patient = reminder(phone="0555 010 200").patient
    answer = post(SENT)
    assert (answer.status_code, answer.json()) == (201, {"key": "m-1"})
    assert "no-store" in answer["Cache-Control"]
    patient.identity.refresh_from_db()
    assert patient.identity.refused_means == ["text"]


def test_the_same_answer_twice_is_one_and_another_by_its_key_is_refused() -> None:
    builders.site()
    assert [post(SENT).status_code for _ in range(2)] == [201, 201]
    assert post({**SENT, "text": "START"}).status_code == 409
    assert Reply.objects.get().text == "STOP"


@pytest.mark.parametrize("secret", ["", "another", SECRET[:-1]])
def test_nobody_else_is_let_in(secret: str) -> None:
    builders.site()
    answer = post(SENT, secret)
    assert (answer.status_code, answer["WWW-Authenticate"]) == (401, "Bearer")
    assert not Reply.objects.exists()


def test_without_a_secret_the_door_is_shut(settings: Any) -> None:
    settings.REPLY_SECRET = ""
    builders.site()
    assert post(SENT, "").status_code == 401


def test_people_do_not_come_in_by_this_door(coordinator: Person) -> None:
    program = Program()
    program.force_login(coordinator)
    assert program.post(URL, SENT).status_code == 401
    assert signed_in(coordinator).post(URL, SENT).status_code == 403


def test_the_provider_comes_in_by_no_other_door() -> None:
    program = Program()
    program.credentials(HTTP_AUTHORIZATION=f"Bearer {SECRET}")
    assert program.get("/api/v1/patients/").status_code == 401


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"key": "m-1", "text": "STOP"}, "from"),
        ({**SENT, "means": "fax"}, "means"),
        ({**SENT, "body": "STOP"}, "body"),
        ({**SENT, "received_at": "yesterday"}, "received_at"),
    ],
)
def test_what_is_wrong_is_said_by_its_field(sent: dict[str, str], field: str) -> None:
    builders.site()
    answer = post(sent)
    assert answer.status_code == 400
    assert set(answer.json()["faults"]) == {field}


def test_a_site_that_is_not_there_takes_nothing() -> None:
    assert post(SENT, url="/api/v1/replies/nowhere/").status_code == 404
