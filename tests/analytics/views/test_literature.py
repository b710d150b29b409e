"""What others report, on its page and as a file."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests import builders
from tests.analytics.records import held, lost

pytestmark = [pytest.mark.usefixtures("defaults", "today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    for _ in range(3):
        held(construct="HP")
    lost(construct="HP")
    return client


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def test_published_counts_stand_beside_ours_and_are_no_targets(here: Client) -> None:
    said = text(here.get(reverse("literature") + "?definition=rise-3mm"))
    assert "They are no targets" in said
    assert "Ours: 1 of 4 judged, 25.0% (95% interval 4.6% to 69.9%)." in said
    assert "3/20 5.2% to 36.0% Another rule." in said
    assert "Milewski and others 2012 from memory" in said


def test_a_row_of_the_same_rule_says_so(here: Client) -> None:
    said = text(here.get(reverse("literature") + "?definition=ratio-25"))
    assert "The same rule as ours: CC distance at least 25 % above the other side." in said


def test_contradictions_and_what_was_left_out_are_told(here: Client) -> None:
    said = text(here.get(reverse("literature") + "?endpoint=subacromial_osteolysis"))
    assert "Fisher's exact test gives 0.058" in said
    assert "Tension band against hook plates" in said


def test_every_endpoint_with_a_count_can_be_opened(here: Client) -> None:
    page = here.get(reverse("literature"))
    queries = [one["query"] for one in page.context["endpoints"]]
    assert len(queries) == 11
    for query in queries:
        assert here.get(f"{reverse('literature')}?{query}").status_code == 200


def test_an_endpoint_without_a_count_is_not_there(here: Client) -> None:
    assert here.get(reverse("literature") + "?endpoint=nerve").status_code == 404


def test_an_address_that_cannot_be_read_says_so(here: Client) -> None:
    assert "could not be read" in text(here.get(reverse("literature") + "?horizon=9m"))
    assert here.get(reverse("literature-csv") + "?horizon=9m").status_code == 400


def test_the_table_is_a_file_with_what_made_it(here: Client) -> None:
    answer = here.get(reverse("literature-csv"))
    lines = b"".join(answer).decode().splitlines()
    assert any(line.startswith("# snapshot,") for line in lines)
    assert any(line.startswith("HP,ours,1,4,0.25,") for line in lines)
