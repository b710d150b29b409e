from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Film
from followup.services import films
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def film(coordinator: Person, client: Client) -> Film:
    client.force_login(coordinator)
    return films.record_film(
        injury=builders.injury(),
        values={"taken_on": date(2026, 7, 17), "view": "zanca"},
        by=coordinator,
        now=NOW,
        today=TODAY,
    )


def sent(**changes: str) -> dict[str, str]:
    return {
        "version": "1",
        "taken_on": "2026-07-17",
        "view": "ap",
        "posture": "upright",
        "weighted": "no",
        "shows_both_sides": "on",
        "calibration": "none",
        "reason": "the label was read wrongly",
        **changes,
    }


def test_the_course_leads_to_correcting_a_film(
    client: Client, film: Film, time_machine: Any
) -> None:
    time_machine.move_to(NOW)
    course = reverse("patient", args=[film.injury.patient.key])
    address = reverse("film-correct", args=[film.pk])
    assert address in client.get(course).content.decode()
    answer = client.post(address, sent(), follow=True)
    assert answer.redirect_chain[-1][0] == course
    assert "Corrected: AP, 17 Jul 2026." in answer.content.decode()


def test_a_film_that_somebody_else_corrected_is_shown_beside_ones_own(
    client: Client, film: Film, time_machine: Any
) -> None:
    time_machine.move_to(NOW)
    address = reverse("film-correct", args=[film.pk])
    client.post(address, sent())
    answer = client.post(address, sent(view="axillary"))
    page = answer.content.decode()
    assert (answer.status_code, Film.objects.get().view) == (409, "ap")
    assert "Axillary" in page
    client.post(address, sent(view="axillary", version="2"))
    assert Film.objects.get().view == "axillary"


def test_what_cannot_be_stands_by_its_field(client: Client, film: Film, time_machine: Any) -> None:
    time_machine.move_to(NOW)
    address = reverse("film-correct", args=[film.pk])
    page = client.post(address, sent(taken_on="2026-05-01", reason="")).content.decode()
    assert "This field is required" in page
    page = client.post(address, sent(taken_on="2026-05-01")).content.decode()
    assert "is before the injury" in page
    assert Film.objects.get().version == 1
