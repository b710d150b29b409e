import csv
import html
import io
import re
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests.analytics.records import held, lost, operation
from tests.analytics.views.test_outcomes import figure, meeting, text, today

__all__ = ["meeting", "today"]
pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def five(meeting: Client) -> Client:
    """Give three held, one lost and one whom nobody saw again."""
    for _ in range(3):
        held(construct="HP")
    lost(construct="LP")
    operation(construct="LP")
    return meeting


def test_the_flow_shows_every_number_and_each_opens_its_cases(five: Client) -> None:
    answer = five.get(reverse("following"))
    said = text(answer)
    assert "5 Operated" in said
    assert "1 not seen at or after the horizon" in said
    assert "Analysed: 4. Of those analysed, 1 had the event, 3 had not." in said
    opened = five.get(reverse("following-cases") + "?which=eligible:not_seen")
    assert "1 case: not seen at or after the horizon, all groups" in text(opened)
    assert "Back to the rates" in text(opened)


def test_completeness_stands_three_ways(five: Client) -> None:
    said = text(five.get(reverse("following")))
    assert "baseline 2w 6w 3m 6m 12m" in said
    assert "Lost for each failure" in said
    assert "Clark, Lancet 2002;359:1309" in said


def test_a_target_that_is_typed_says_from_where_on_it_is_exceeded(five: Client) -> None:
    said = text(five.get(reverse("following") + "?target=30"))
    assert "It exceeds 30.0% once 1 of the 1 had the event (100.0%)." in said
    assert "Above 30.0% once" in said
    without = text(five.get(reverse("following")))
    assert "No rate is taken for too much until somebody types one" in without


def test_a_target_that_cannot_be_read_is_said(five: Client) -> None:
    answer = five.get(reverse("following") + "?target=lots")
    assert answer.status_code == 200
    assert "a number from 0 to 100, and 'lots' was typed" in text(answer)
    refused = five.get(reverse("following-csv") + "?target=lots&table=tipping")
    assert refused.status_code == 400


def test_figures_carry_their_words(five: Client) -> None:
    answer = five.get(reverse("following"))
    assert figure(answer, "review-ends")["data"][0]["name"] == "done in window"
    assert "of 5 planned done in window" in text(answer)
    assert figure(answer, "lost")["data"][0]["marker"]["symbol"]


def test_responses_are_linked_for_who_may_see_them(five: Client) -> None:
    answer = five.get(reverse("following"))
    assert reverse("responses") in answer.content.decode()


@pytest.mark.parametrize(
    "table",
    ["completeness", "flow", "reviews", "responses", "lost", "silent", "tipping", "rates"],
)
def test_every_table_is_a_file_that_says_how_it_was_made(five: Client, table: str) -> None:
    answer = five.get(reverse("following-csv") + f"?table={table}")
    assert answer["Content-Disposition"] == f'attachment; filename="following-{table}-12m.csv"'
    lines = list(csv.reader(io.StringIO(answer.content.decode())))
    assert ["# definition", "rise-3mm, version 1"] in lines


def test_what_is_not_there_is_not_found(five: Client) -> None:
    for address in (
        reverse("following-csv") + "?table=shoe",
        reverse("following-cases") + "?which=shoe",
        reverse("following-cases") + "?which=operated&group=XX",
    ):
        assert five.get(address).status_code == 404


def test_an_empty_service_is_told_what_will_stand_here(meeting: Client) -> None:
    assert "No index procedure in this cohort" in text(meeting.get(reverse("following")))


def test_who_may_not_see_outcomes_is_refused(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    for name in ("following", "following-csv", "following-cases"):
        assert client.get(reverse(name)).status_code == 403


def opening(page: str) -> dict[str, tuple[str, int]]:
    """Return by what a number counts the address that opens it and the number itself."""
    found = re.findall(
        r'<a href="(/outcomes/following/cases/\?[^"]*)">(?:<strong>)?(\d+)(?:</strong>)?</a>', page
    )
    addresses = [(html.unescape(address), int(number)) for address, number in found]
    return {
        f"{asked['which'][0]}|{asked.get('group', [''])[0]}": (address, number)
        for address, number in addresses
        for asked in (parse_qs(urlsplit(address).query),)
    }


def test_numbers_of_reviews_shares_failures_and_tipping_open_their_cases(five: Client) -> None:
    links = opening(five.get(reverse("following")).content.decode())
    for which in (
        "site:north:planned|",
        "site:north:open|",
        "month:2025-09:planned|",
        "all:planned|",
        "due:3m|",
        "due:3m|HP",
        "events|",
        "events|LP",
        "evaluable|",
        "not_evaluable|LP",
    ):
        address, number = links[which]
        # One patient has several reviews at a site, and is one case.
        cases = 5 if which.startswith(("site", "all")) else number
        assert f" {cases} case{'' if cases == 1 else 's'}: " in text(five.get(address)), which


def test_opening_a_number_costs_the_same_whatever_lies_behind_it(
    five: Client, counted: Callable[[], Any]
) -> None:
    address = f"{reverse('following-cases')}?which=site:north:planned"
    assert "5 cases: planned at site north" in text(five.get(address))
    with counted() as few:
        five.get(address)
    for _ in range(5):
        held(construct="LP")
    assert "10 cases: planned at site north" in text(five.get(address))
    with counted() as many:
        five.get(address)
    assert len(many) == len(few)
