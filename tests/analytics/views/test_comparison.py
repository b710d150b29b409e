import re
from html import unescape
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from registry.models import Person
from tests import builders
from tests.analytics.records import held, lost, operation

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)
    cache.clear()


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def two_groups() -> None:
    for construct in ("HP", "LP"):
        for number in range(5):
            lost(construct=construct) if number < 2 else held(construct=construct)
    held(construct="HP")


def test_groups_are_compared_with_the_chosen_one_and_refused_where_too_few(meeting: Client) -> None:
    two_groups()
    said = text(meeting.get(reverse("compare")))
    assert "By 12 months: LP 40.0%, +6.7 points" in said
    assert "Observational: not a treatment effect" in said
    assert "1 coefficient would need at least 5 with the event and 5 without" in said
    other = text(meeting.get(reverse("compare") + "?against=LP&adjust=sex&adjust=smoking"))
    assert "HP 33.3%, -6.7 points" in other
    assert "Adjusted for: sex; smoking." in other
    assert "without smoking" in other


def test_every_number_opens_its_cases(meeting: Client) -> None:
    two_groups()
    page = meeting.get(reverse("compare")).content.decode()
    opens = re.findall(r'href="(/outcomes/cases/[^"]+)">(\d+)</a>', page)
    assert len(opens) == 6
    for address, number in opens:
        assert f"{number} case" in text(meeting.get(unescape(address))), address


def test_the_file_has_the_pages_numbers(meeting: Client) -> None:
    two_groups()
    answer = meeting.get(reverse("compare-csv") + "?against=HP")
    assert 'filename="comparison-loss_of_reduction-12m.csv"' in answer["Content-Disposition"]
    assert "LP,HP,difference,no,2,5,0.0666" in answer.content.decode()


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("?against=XX", "'XX' is none of the groups"),
        ("?adjust=shoe_size", "'shoe_size' is not one of age_years"),
    ],
)
def test_what_cannot_be_compared_is_said_and_a_file_of_it_refused(
    meeting: Client, query: str, words: str
) -> None:
    two_groups()
    page = meeting.get(reverse("compare") + query)
    assert page.status_code == 200
    assert words in text(page)
    file = meeting.get(reverse("compare-csv") + query)
    assert file.status_code == 400
    assert words in file.content.decode()


def test_too_few_or_nobody_is_said(meeting: Client) -> None:
    assert "Which definition do you mean?" in text(meeting.get(reverse("compare")))
    operation()
    assert "No two groups have enough" in text(meeting.get(reverse("compare")))


def test_what_films_do_not_decide_is_not_compared_here(meeting: Client) -> None:
    for name in ("compare", "compare-csv"):
        assert meeting.get(reverse(name) + "?endpoint=nerve").status_code == 404


def test_only_roles_that_see_outcomes_compare(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    for name in ("compare", "compare-csv"):
        assert client.get(reverse(name)).status_code == 403


def test_another_sites_cases_are_in_no_number(meeting: Client) -> None:
    two_groups()
    for _ in range(6):
        lost("south", construct="TG")
    assert "TG" not in text(meeting.get(reverse("compare")))
