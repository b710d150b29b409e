"""Today's list."""

from collections.abc import Callable
from datetime import date, time
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Review
from followup.views import clinic as view
from registry.models import Person, Procedure
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.looked import named_on

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

# 25 November 2026 is a Wednesday, inside the 6-month window after 5 June.


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


def clinic_page(client: Client, **query: str) -> str:
    return str(client.get(reverse("clinic"), query).content.decode())


def where(review: Review) -> str:
    return reverse("clinic-visit", args=[review.pk])


def save(client: Client, review: Review, **typed: Any) -> Any:
    sent = {"version": review.version, "visited_on": "2026-11-25", **typed}
    return client.post(where(review), sent)


def test_todays_list_is_mine_with_what_is_to_be_known_before_the_visit(
    here: Client, surgeon: Person
) -> None:
    review = review_at()
    booked(review, on=TODAY, where=builders.clinic(weekday=2, surgeon=surgeon))
    booked(review_at("Other"), on=TODAY, at=time(9, 10))
    shown = clinic_page(here)
    assert f'<a href="{where(review)}" data-walk-link>Quill, Ada</a>' in shown
    construct = str(review.procedure.construct)
    for words in ("09:00", "6 months, left", construct, "film first", "1 visit on"):
        assert words in shown
    assert "Other, Ada" not in shown


def test_on_request_the_list_is_everybodys(here: Client) -> None:
    booked(review_at("Other"), on=TODAY)
    assert "Other, Ada" in clinic_page(here, who="all")


def test_a_long_day_is_read_page_by_page(here: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(view, "PER_PAGE", 1)
    where_to = builders.clinic(weekday=2, slots=3)
    booked(review_at("First"), on=TODAY, where=where_to)
    booked(review_at("Second"), on=TODAY, at=time(9, 10), where=where_to)
    shown = clinic_page(here, who="all")
    assert "2 visits on" in shown
    assert "First, Ada" in shown
    assert "Second, Ada" not in shown
    assert f"?day={TODAY}&amp;who=all&amp;page=2" in shown
    assert "Second, Ada" in clinic_page(here, who="all", page="2")


def test_another_day_is_chosen_in_the_address(here: Client) -> None:
    booked(review_at(), on=date(2026, 12, 1))
    assert "Quill, Ada" in clinic_page(here, who="all", day="2026-12-01")
    assert "Quill, Ada" not in clinic_page(here, who="all", day="soon")


def test_a_coordinator_sees_everybodys_list_unasked(client: Client, coordinator: Person) -> None:
    booked(review_at(), on=TODAY)
    client.force_login(coordinator)
    assert "Quill, Ada" in clinic_page(client)


def test_a_day_without_visits_teaches_how_they_come(here: Client) -> None:
    shown = clinic_page(here)
    assert "Nobody is booked on this day" in shown
    assert reverse("due") in shown


def test_another_sites_visits_are_not_there(client: Client, outsider: Person) -> None:
    review = review_at()
    booked(review, on=TODAY)
    client.force_login(outsider)
    assert "Quill" not in clinic_page(client, who="all")
    assert client.get(where(review)).status_code == 404
    assert save(client, review).status_code == 404


def test_who_has_no_part_in_it_sees_neither_the_list_nor_a_visit(
    client: Client, film_reader: Person
) -> None:
    client.force_login(film_reader)
    assert client.get(reverse("clinic")).status_code == 403
    assert client.get(where(review_at())).status_code == 403


def test_the_queries_of_the_pages_do_not_grow(here: Client, counted: Callable[[], Any]) -> None:
    place = builders.clinic(weekday=2, slots=20)
    numbers = []
    for minutes in ((0,), (10, 20, 30)):
        for minute in minutes:
            review = review_at()
            booked(review, on=TODAY, at=time(9, minute), where=place)
        with counted() as queries:
            clinic_page(here, who="all")
        numbers.append(len(queries))
    assert numbers[0] == numbers[1]


def test_whom_the_day_named_is_written_down(here: Client) -> None:
    review = review_at()
    booked(review, on=TODAY)
    clinic_page(here, who="all")
    assert named_on("clinic") == [[review.procedure.injury.patient.key]]
    clinic_page(here, day="2026-11-26")
    assert len(named_on("clinic")) == 1
