"""What is typed and not saved, and who else is there."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import (
    Complication,
    Film,
    HardwareDecision,
    MotionExam,
    Reading,
    Review,
    Score,
)
from registry.models import Person, Procedure
from tests import builders
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

# 25 November 2026 is a Wednesday, inside the 6-month window after 5 June.
FINDINGS = (Film, Reading, MotionExam, Score, Complication, HardwareDecision)


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def review_at(name: str = "Quill", step: str = "6m", **values: Any) -> Review:
    whose = builders.patient(family_name=name)
    operation: Procedure = builders.procedure(of=builders.injury(of=whose), **values)
    found: Review = operation.reviews.get(step__code=step)
    return found


def where(review: Review) -> str:
    return reverse("clinic-visit", args=[review.pk])


def visit_page(client: Client, review: Review) -> str:
    return str(client.get(where(review)).content.decode())


def saved() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in FINDINGS if model.objects.exists()}


def test_what_was_typed_and_not_saved_comes_back_with_its_time_to_its_author_alone(
    here: Client,
) -> None:
    review = review_at()
    typed = {"version": "1", "pain_nrs": "3", "decision_state": "planned", "union": "united"}
    answer = here.post(reverse("visit-draft", args=[review.pk]), typed)
    assert answer.content.decode().startswith("Kept as your draft at ")
    shown = visit_page(here, review)
    assert "what you typed on 25 Nov 2026, 09:00" in shown
    assert 'name="pain_nrs" value="3"' in shown
    assert '<option value="united" selected>' in shown
    assert saved() == {}
    other = Client()
    other.force_login(builders.person("second", north="surgeon"))
    assert "what you typed" not in visit_page(other, review)
    here.post(reverse("visit-draft-forget", args=[review.pk]))
    assert "what you typed" not in visit_page(here, review)


def test_two_at_one_visit_are_told_of_each_other(here: Client) -> None:
    review = review_at()
    other = Client()
    other.force_login(builders.person("second", north="surgeon"))
    place = reverse("visit-presence", args=[review.pk])
    assert here.post(place).content.strip() == b""
    assert "has this visit open too" in other.post(place).content.decode()
    assert "Second has this visit open too" in here.post(place).content.decode()
