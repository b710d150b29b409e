"""The page of the signals: what waits, the data, the funnels, the charts; by right."""

import csv
import io
import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import EndpointChoice, Signal
from analytics.services.definitions import choose_definition
from registry.models import Person
from tests import builders
from tests.analytics import monitored
from tests.analytics.records import held, lost
from tests.builders import TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    """Return the words of a page, without its marks."""
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def three_surgeons() -> list[Person]:
    """Let three surgeons operate at the north, and its policy have them on."""
    people = [builders.person(name, north="surgeon") for name in ("ann", "bob", "cleo")]
    for number, somebody in enumerate(people):
        for done in (held(), held(), lost() if number else held()):
            type(done).objects.filter(pk=done.pk).update(surgeon=somebody)
    site = builders.site()
    choose_definition(site=site, definition_id="rise-3mm", on=TODAY, by=None)
    monitored.policy(site)
    return people


def test_what_waits_stands_on_top_with_its_owner_and_how_late_it_is(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    Signal.objects.filter(pk=row.pk).update(due_on=TODAY - timedelta(days=5))
    said = text(meeting.get(reverse("signals")))
    assert "1 signal past its day; the oldest: Loss of reduction, North Hospital: case" in said
    assert "5 days late" in said
    assert "North Lead" in said
    assert said.index("What waits for an answer?") < said.index("Are the data sound?")
    assert said.index("Are the data sound?") < said.index("Do sites or surgeons differ")


def test_a_late_signal_stands_on_the_other_pages_of_the_meeting(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    assert "past its day" not in text(meeting.get(reverse("harms")))
    Signal.objects.filter(pk=row.pk).update(due_on=TODAY - timedelta(days=5))
    for name in ("outcomes", "harms"):
        assert "1 signal past its day" in text(meeting.get(reverse(name)))


def test_the_data_of_the_last_year_are_shown_with_nobodys_look(meeting: Client) -> None:
    choose_definition(site=builders.site(), definition_id="rise-3mm", on=TODAY, by=None)
    held()
    said = text(meeting.get(reverse("signals") + "?from=2025-01-01"))
    assert "1 of 1, 100.0%" in said
    assert "Fractures without a Neer class: 0 of 1" in said
    assert "Possible double entries: 0" in said
    assert "Nobody has recorded a look at this yet." in said


def test_nothing_is_called_performance_and_nothing_is_ranked(meeting: Client) -> None:
    three_surgeons()
    page = meeting.get(reverse("signals"))
    assert "performance" not in text(page).lower()
    assert "order=" not in page.content.decode()
    assert "sort=" not in page.content.decode()


def test_a_quality_lead_sees_all_surgeons_by_name_where_the_policy_has_them_on(
    meeting: Client,
) -> None:
    three_surgeons()
    said = text(meeting.get(reverse("signals")))
    for name in ("Ann", "Bob", "Cleo"):
        assert name in said
    lines = meeting.get(reverse("signals-csv")).content.decode()
    rows = list(csv.reader(io.StringIO(lines)))
    units = [row[1] for row in rows if row[0] == "surgeons"]
    assert units == ["Ann", "Bob", "Cleo"]


def test_a_surgeon_sees_the_own_point_and_nobody_elses(client: Client) -> None:
    people = three_surgeons()
    client.force_login(people[1])
    for name in ("signals", "signals-csv"):
        said = client.get(reverse(name)).content.decode()
        assert "Ann" not in said
        assert "Cleo" not in said
    rows = list(csv.reader(io.StringIO(client.get(reverse("signals-csv")).content.decode())))
    assert [row[1] for row in rows if row[0] == "surgeons"] == ["you"]


def test_an_address_that_names_a_surgeon_is_not_followed(client: Client) -> None:
    people = three_surgeons()
    client.force_login(people[1])
    address = f"?surgeon={people[0].pk}"
    one, two = (client.get(reverse("signals-csv") + query) for query in ("", address))
    assert one.content == two.content


def test_without_a_policy_surgeons_and_charts_are_off(meeting: Client) -> None:
    choose_definition(site=builders.site(), definition_id="rise-3mm", on=TODAY, by=None)
    said = text(meeting.get(reverse("signals")))
    assert "Funnels of surgeons are off" in said
    assert "Running charts are off at North Hospital" in said
    assert "No chart is running here yet." in said


@pytest.mark.parametrize("query", ["?watched=infection", "?watched=reoperation&horizon=6m"])
def test_each_endpoint_is_watched_by_its_own_definition(meeting: Client, query: str) -> None:
    held()
    answer = meeting.get(reverse("signals") + query)
    assert answer.status_code == 200
    assert "began within 90 days" in text(answer) or "not planned from the start" in text(answer)
    made = meeting.get(reverse("signals-csv") + query).content.decode()
    assert "infection-deep-90d" in made or "unplanned-operation" in made


def test_an_address_that_cannot_be_read_is_said(meeting: Client) -> None:
    choose_definition(site=builders.site(), definition_id="rise-3mm", on=TODAY, by=None)
    assert "is not a date" in text(meeting.get(reverse("signals") + "?from=yesterday"))
    assert meeting.get(reverse("signals-csv") + "?from=yesterday").status_code == 400


def test_where_no_definition_is_chosen_the_page_asks_for_one(meeting: Client) -> None:
    said = text(meeting.get(reverse("signals")))
    assert "No primary definition is chosen" in said


def test_the_history_keeps_what_is_closed(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    said = text(meeting.get(reverse("signals-history")))
    assert f"case {row.position + 1}" in said
    assert "raised" in said


def test_another_sites_signals_are_on_no_page(client: Client, outsider: Person) -> None:
    row = monitored.signal(builders.site())
    choose_definition(site=builders.site("south"), definition_id="rise-3mm", on=TODAY, by=None)
    client.force_login(outsider)
    for name in ("signals", "signals-history"):
        assert str(row) not in text(client.get(reverse(name)))
    assert client.get(reverse("signals-one", args=[row.pk])).status_code == 404


def test_open_signals_and_charts_wait_for_no_definition(meeting: Client) -> None:
    row = monitored.signal(builders.site())
    held()
    EndpointChoice.objects.all().delete()
    answer = meeting.get(reverse("signals"))
    said = text(answer)
    assert answer.status_code == 200
    assert reverse("signals-one", args=[row.pk]) in answer.content.decode()
    assert "Choose a definition. No primary definition is chosen at the sites in view." in said
    assert 'id="definition"' in answer.content.decode()
    assert "Has anything changed over time?" in said
    assert "Are the data sound?" not in said
    named = text(meeting.get(reverse("signals") + "?definition=rise-3mm"))
    assert "Are the data sound?" in named
    assert "Choose a definition" not in named


def test_what_has_one_definition_only_is_drawn_where_none_was_chosen(meeting: Client) -> None:
    held()
    EndpointChoice.objects.all().delete()
    said = text(meeting.get(reverse("signals") + "?watched=infection"))
    assert "Are the data sound?" in said
    assert "Choose a definition" not in said
