"""What a patient is told when the answers could not be saved at that moment."""

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.core.cache import cache

from followup.models import Answer, Score
from followup.views import questionnaires
from registry.errors import BadInput, StaleVersion
from tests.builders import NOW
from tests.followup.asked import TELEPHONE, invited, phone, post

pytestmark = pytest.mark.usefixtures("defaults")
HERE = "/q/"
AGAIN = "if it happens again, ring the clinic."


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    cache.clear()
    with time_machine.travel(NOW, tick=False):
        yield


def text(answer: Any) -> str:
    return str(answer.content.decode())


def page_of(answer: Any) -> str:
    found = re.search(r'<form method="post">.*?name="page" value="([^"]+)"', text(answer), re.S)
    return found[1] if found else ""


def stale(times: int) -> Callable[..., Any]:
    """Return a sending off that finds the review changed under its hands so many times."""
    send_off, left = questionnaires.service.complete, [None] * times

    def complete(**values: Any) -> Any:
        if left:
            left.pop()
            raise StaleVersion("Review", expected=1, current=2)
        return send_off(**values)

    return complete


def test_what_somebody_else_changes_at_that_moment_is_sent_off_at_the_second_try(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, address = invited()
    client = phone(address)
    post(client, "pain", q1="2")
    monkeypatch.setattr(questionnaires.service, "complete", stale(1))
    assert "Thank you" in text(post(client, "check"))
    assert Score.objects.count() == 1


@pytest.mark.parametrize(
    ("language", "words"),
    [("en", AGAIN), ("de", "Das konnte gerade nicht gespeichert werden.")],
)
def test_what_cannot_be_sent_off_is_told_in_words(
    language: str, words: str, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    _, address = invited(language=language)
    client = phone(address)
    assert words not in text(post(client, "pain", q1="2"))
    with monkeypatch.context() as patched:
        patched.setattr(questionnaires.service, "complete", stale(2))
        shown = post(client, "check")
    assert page_of(shown) == "check"
    assert words in text(shown)
    assert TELEPHONE in text(shown)
    assert "could not be saved: StaleVersion" in caplog.text
    assert not Score.objects.exists()
    assert words not in text(client.get(f"{HERE}?page=check"))
    post(client, "check")
    assert Score.objects.count() == 1


def test_an_answer_that_cannot_be_saved_is_told_and_still_on_the_page(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    _, address = invited()
    client = phone(address)

    def refuse(**values: Any) -> Any:
        raise BadInput("refused")

    monkeypatch.setattr(questionnaires.service, "keep", refuse)
    shown = post(client, "function", q1="75")
    assert page_of(shown) == "function"
    assert AGAIN in text(shown)
    assert 'value="75"' in text(shown)
    assert not Answer.objects.exists()
