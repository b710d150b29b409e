"""Several complications on the page of one visit."""

from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Complication, Review
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def review_at() -> Review:
    found: Review = builders.procedure().reviews.get(step__code="6m")
    return found


def save(client: Client, review: Review, **typed: Any) -> Any:
    sent = {"version": review.version, "visited_on": "2026-11-25", **typed}
    return client.post(reverse("clinic-visit", args=[review.pk]), sent)


def test_several_complications_are_entered_in_one_save_with_onset_and_end(here: Client) -> None:
    review = review_at()
    answer = save(
        here,
        review,
        complication_kind="infection_superficial",
        complication_grade="II",
        complication_began="2026-10",
        complication_ended="2026-11-25",
        complication_kind_2="nerve",
        complication_began_2="2026-11",
    )
    assert answer.status_code == 302
    kept = {event.kind: event for event in Complication.objects.all()}
    first, second = kept["infection_superficial"], kept["nerve"]
    assert (first.onset_earliest, first.onset_latest) == (date(2026, 10, 1), date(2026, 10, 31))
    assert first.resolved_on == TODAY
    # November is not over: it was seen on the 25th and began no later.
    assert (second.onset_latest, second.resolved_on) == (TODAY, None)


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"complication_grade_3": "II"}, "complication_kind_3", "Say which complication"),
        (
            {"complication_kind": "nerve", "complication_began": "2026-05"},
            "complication_began",
            "before the operation",
        ),
        (
            {"complication_kind_2": "nerve", "complication_began_2": "2026-12"},
            "complication_began_2",
            "after the visit",
        ),
        (
            {"complication_kind": "nerve", "complication_ended": "2026-12-01"},
            "complication_ended",
            "in the future",
        ),
        (
            {"complication_kind": "nerve", "complication_ended": "2026-11-01"},
            "complication_ended",
            "seen at this visit",
        ),
        (
            {"hardware_fine": "on", "hardware_symptoms": "it hurts"},
            "hardware_fine",
            "There is a complaint below",
        ),
    ],
)
def test_a_line_that_cannot_be_is_refused_in_its_place(
    here: Client, typed: dict[str, str], field: str, says: str
) -> None:
    shown = save(here, review_at(), **typed).content.decode()
    assert says in shown.split(f'id="id_{field}_error">')[1].split("</p>")[0]
    assert not Complication.objects.exists()
