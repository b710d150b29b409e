"""Choosing each site's primary definition."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import EndpointChoice
from analytics.services.definitions import choose_definition
from registry.models import Person
from tests import builders
from tests.builders import TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def text(answer: Any) -> str:
    """Return the words of a page, without its marks."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def where(code: str = "north", endpoint: str = "loss_of_reduction") -> str:
    return reverse("setup-definition", args=[builders.site(code).pk, endpoint])


def test_every_definition_is_listed_with_its_text_version_and_source(here: Client) -> None:
    said = text(here.get(reverse("setup-definitions")))
    assert "CC distance 25 % or more above the other side 1 Lost when" in said
    assert "Mori et al. JBJS Open Access 2017;2:e0007" in said
    assert "Any complication 1 The first complication of any kind" in said
    assert "none chosen yet: figures ask which one is meant" in said
    assert reverse("setup-definitions") in here.get(reverse("setup")).content.decode()


def test_a_choice_is_saved_and_shown_with_who_and_since_when(here: Client) -> None:
    page = here.post(where(), {"definition": "ratio-25", "version": "0"}, follow=True)
    assert "North Hospital since 25 Nov 2026: CC distance 25 %" in text(page)
    assert "(version 1) 25 Nov 2026 Ada nothing" in text(page)
    here.post(where(), {"definition": "rise-3mm", "version": "1"})
    said = text(here.get(reverse("setup-definitions")))
    assert "above the other side (version 1), since 25 Nov 2026, by Ada" in said


@pytest.mark.parametrize(
    ("sent", "words"),
    [({}, "Choose one of the definitions"), ({"definition": "union-film"}, "not one of the")],
)
def test_a_faulty_choice_is_refused_by_its_field(
    here: Client, sent: dict[str, str], words: str
) -> None:
    assert words in text(here.post(where(), {"version": "0", **sent}))
    assert not EndpointChoice.objects.exists()


def test_two_administrators_see_both_choices(here: Client) -> None:
    here.post(where(), {"definition": "ratio-25", "version": "0"})
    answer = here.post(where(), {"definition": "rise-3mm", "version": "0"})
    assert answer.status_code == 409
    table = text(answer).split("What you typed")[2]
    assert table.index("25 % or more") < table.index("more than 3 mm")
    assert 'name="version" value="1"' in answer.content.decode()
    assert EndpointChoice.objects.get().definition_id == "ratio-25"


def test_sites_that_chose_otherwise_are_told_what_their_figures_show(client: Client) -> None:
    both = builders.person("both", north="administrator", south="administrator")
    client.force_login(both)
    for code, name in (("north", "rise-3mm"), ("south", "ratio-25")):
        choose_definition(site=builders.site(code), definition_id=name, on=TODAY, by=both)
    said = text(client.get(reverse("setup-definitions")))
    assert "Your sites have not chosen the same definition" in said


def test_an_endpoint_without_a_choice_and_another_site_are_not_there(here: Client) -> None:
    assert here.get(where(endpoint="union")).status_code == 404
    assert here.get(where(endpoint="beauty")).status_code == 404
    assert here.get(where("south")).status_code == 404


def test_only_an_administrator_chooses(client: Client, quality_lead: Person) -> None:
    client.force_login(quality_lead)
    for address in (reverse("setup-definitions"), where()):
        assert client.get(address).status_code == 403


def test_the_page_costs_the_same_for_one_choice_and_for_sixty(
    here: Client, administrator: Person, counted: Any
) -> None:
    cost = []
    for number in (1, 60):
        for index in range(EndpointChoice.objects.count(), number):
            choose_definition(
                site=builders.site(),
                definition_id=("rise-3mm", "ratio-25")[index % 2],
                on=TODAY,
                by=administrator,
            )
        with counted() as queries:
            here.get(reverse("setup-definitions"))
        cost.append(len(queries))
    assert cost[0] == cost[1]
