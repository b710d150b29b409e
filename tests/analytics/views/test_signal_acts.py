"""One signal from its data to its end, as the owner goes through it."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import DataCheck, Signal
from analytics.services.definitions import choose_definition
from registry.models import Person
from tests import builders
from tests.analytics import monitored
from tests.analytics.records import held
from tests.builders import TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def row(db: None) -> Signal:
    return monitored.signal(builders.site())


@pytest.fixture
def owner(client: Client, row: Signal) -> Client:
    client.force_login(row.owner)
    return client


def text(answer: Any) -> str:
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def send(by: Client, row: Signal, act: str, **given: str) -> Any:
    row.refresh_from_db()
    return by.post(
        reverse("signals-act", args=[row.pk, act]),
        {"version": str(row.version), "words": "as agreed", **given},
    )


def look(by: Client, row: Signal, subject: str, **given: str) -> Any:
    row.refresh_from_db()
    return by.post(
        reverse("signals-check", args=[row.pk, subject]),
        {"version": str(row.version), "verdict": "sound", "finding": "nothing", **given},
    )


def test_the_whole_way_of_a_signal_leads_through_its_pages(owner: Client, row: Signal) -> None:
    url = reverse("signals-one", args=[row.pk])
    assert "Not to be discussed yet" in text(owner.get(url))
    for subject in ("completeness", "coding", "case_mix"):
        assert look(owner, row, subject).status_code == 302
    said = text(owner.get(url))
    assert "Not to be discussed yet" not in said
    assert "Begin the review of cases" in said
    assert send(owner, row, "review").status_code == 302
    assert send(owner, row, "finding", kind="chance").status_code == 302
    assert send(owner, row, "action", due_on="2026-12-24").status_code == 302
    assert send(owner, row, "close").status_code == 302
    row.refresh_from_db()
    assert row.state == "closed"
    said = text(owner.get(url))
    assert "Nothing found: chance remains the likeliest" in said
    assert "Open it again" in said


def test_the_numbers_on_show_are_kept_with_the_check(owner: Client, row: Signal) -> None:
    url = reverse("signals-check", args=[row.pk, "case_mix"])
    assert "Cases compared" in text(owner.get(url))
    look(owner, row, "case_mix")
    facts = DataCheck.objects.get(signal=row).facts
    assert facts["cases compared"] == "0 before, 0 since"


def test_a_step_before_its_time_is_refused_in_words(owner: Client, row: Signal) -> None:
    assert "is 'raised' and cannot become" in text(send(owner, row, "review"))
    assert "not closed without a finding" in text(send(owner, row, "close"))
    look(owner, row, "coding")
    assert "completeness, case mix not looked at yet" in text(send(owner, row, "review"))
    row.refresh_from_db()
    assert row.state == "checks"


def test_a_step_without_words_is_refused_by_its_field(owner: Client, row: Signal) -> None:
    assert "it is kept in the history" in text(
        send(owner, row, "due", words="", due_on="2027-01-01")
    )
    assert "Say what was found" in text(look(owner, row, "coding", finding=""))
    assert "This day is over" in text(send(owner, row, "due", due_on="2026-01-01"))


def test_whoever_comes_second_sees_both(owner: Client, row: Signal) -> None:
    version = row.version
    send(owner, row, "due", due_on="2027-01-01")
    url = reverse("signals-act", args=[row.pk, "due"])
    answer = owner.post(url, {"version": str(version), "words": "later", "due_on": "2027-02-02"})
    assert answer.status_code == 409
    assert "Somebody else saved this first" in text(answer)
    row.refresh_from_db()
    assert row.due_on.isoformat() == "2027-01-01"


def test_a_signal_is_given_to_another_who_may_settle_it(owner: Client, row: Signal) -> None:
    heir = builders.person("heir", north="quality_lead")
    assert send(owner, row, "owner", owner=str(heir.pk)).status_code == 302
    row.refresh_from_db()
    assert row.owner == heir
    stranger = builders.person("selma", north="surgeon")
    assert send(owner, row, "owner", owner=str(stranger.pk)).status_code == 200


def test_a_surgeon_reads_a_signal_and_changes_nothing(
    client: Client, surgeon: Person, row: Signal
) -> None:
    client.force_login(surgeon)
    said = text(client.get(reverse("signals-one", args=[row.pk])))
    assert "Put it off" not in said
    assert "Look, and record" not in said
    assert client.get(reverse("signals-act", args=[row.pk, "due"])).status_code == 403
    assert look(client, row, "coding").status_code == 403


@pytest.mark.parametrize(("name", "last"), [("signals-act", "promote"), ("signals-check", "shoes")])
def test_what_there_is_not_is_not_found(owner: Client, row: Signal, name: str, last: str) -> None:
    assert owner.get(reverse(name, args=[row.pk, last])).status_code == 404


def test_a_look_at_the_data_of_a_site_is_recorded_without_a_signal(
    client: Client, quality_lead: Person
) -> None:
    site = builders.site()
    choose_definition(site=site, definition_id="rise-3mm", on=TODAY, by=None)
    held()
    client.force_login(quality_lead)
    url = reverse("signals-look", args=[site.pk, "coding"])
    assert "Fractures without a Neer class" in text(client.get(url))
    assert client.post(url, {"verdict": "doubt", "finding": "two to be asked"}).status_code == 302
    said = text(client.get(reverse("signals")))
    assert "Looked at by Quentin on 25 Nov 2026 at North Hospital" in said
    assert "two to be asked" in said
    assert client.get(reverse("signals-look", args=[site.pk, "shoes"])).status_code == 404
