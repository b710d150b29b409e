"""The page of the meetings: recording one, deciding, and what becomes of it."""

import re
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import Meeting, MeetingDecision
from registry.models import Person
from tests import builders
from tests.analytics.services.test_meetings import decided, met
from tests.builders import TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def sent(**values: Any) -> dict[str, Any]:
    return {"held_on": "2026-11-20", "attended": "7", "notes": "", **values}


def test_a_meeting_is_recorded_and_opens(here: Client) -> None:
    site = builders.site()
    page = here.post(reverse("meeting-add"), sent(sites=[site.pk]), follow=True)
    said = text(page)
    assert "What did the meeting of 20 Nov 2026 decide?" in said
    assert "North Hospital" in said
    assert "Attended 7" in said
    assert Meeting.objects.get().recorded_by.username == "quentin"


def test_another_ones_site_cannot_be_chosen(here: Client) -> None:
    there = builders.site("south")
    page = here.post(reverse("meeting-add"), sent(sites=[there.pk]))
    assert "Select a valid choice" in text(page)
    assert not Meeting.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"held_on": "2026-12-24"}, "still to come"), ({"attended": "0"}, "greater than or equal")],
)
def test_a_faulty_meeting_is_refused_by_its_field(
    here: Client, wrong: dict[str, str], words: str
) -> None:
    page = here.post(reverse("meeting-add"), sent(sites=[builders.site().pk], **wrong))
    assert words in text(page)
    assert not Meeting.objects.exists()


def test_a_decision_is_added_from_a_figures_address(here: Client, quality_lead: Person) -> None:
    where = reverse("meeting-decide", args=[met(quality_lead).pk])
    form = here.get(where + "?figure=/outcomes/%3Fby=site").content.decode()
    assert 'value="/outcomes/?by=site"' in form
    given = {"words": "Look again.", "owner": quality_lead.pk, "due_on": "2026-12-01"}
    page = here.post(where, {**given, "figure": "/outcomes/?by=site"}, follow=True)
    assert 'href="/outcomes/?by=site"' in page.content.decode()
    assert "Open Quentin, by 1 Dec 2026" in text(page)


def test_an_address_from_elsewhere_is_refused(here: Client, quality_lead: Person) -> None:
    where = reverse("meeting-decide", args=[met(quality_lead).pk])
    page = here.post(where, {"words": "Look.", "figure": "javascript:alert(1)"})
    assert "This is no address of a figure here" in text(page)
    assert not MeetingDecision.objects.exists()


def test_an_action_is_closed_and_leaves_the_list(here: Client, quality_lead: Person) -> None:
    decision = decided(met(quality_lead), quality_lead)
    assert "1 open action" in text(here.get(reverse("meetings")))
    where = reverse("decision", args=[decision.pk])
    page = here.post(
        where, {"kind": "done", "words": "It is the rule now.", "version": "1"}, follow=True
    )
    assert "done: It is the rule now." in text(page)
    assert "No action is open" in text(here.get(reverse("meetings")))


def test_an_overdue_action_says_so(here: Client, quality_lead: Person) -> None:
    before = TODAY - timedelta(days=90)
    decided(met(quality_lead, before), quality_lead, due_on=TODAY - timedelta(days=1))
    assert "24 Nov 2026, overdue" in text(here.get(reverse("meetings")))


def test_what_became_of_an_action_has_to_be_said(here: Client, quality_lead: Person) -> None:
    where = reverse("decision", args=[decided(met(quality_lead), quality_lead).pk])
    assert "Say in words" in text(here.post(where, {"kind": "dropped", "version": "1"}))
    assert "not one of the" in text(
        here.post(where, {"kind": "reopened", "words": "x", "version": "1"})
    )


def test_of_two_who_close_it_the_second_sees_both(here: Client, quality_lead: Person) -> None:
    where = reverse("decision", args=[decided(met(quality_lead), quality_lead).pk])
    for words in ("done twice", "done once"):
        answer = here.post(where, {"kind": "changed", "words": words, "version": "1"})
    assert answer.status_code == 409


def test_a_decision_that_asks_for_nothing_is_not_followed_up(
    here: Client, quality_lead: Person
) -> None:
    decision = decided(met(quality_lead), quality_lead, owner=None, due_on=None)
    assert here.get(reverse("decision", args=[decision.pk])).status_code == 404


def test_a_surgeon_reads_and_does_not_write(
    client: Client, surgeon: Person, quality_lead: Person
) -> None:
    client.force_login(surgeon)
    meeting = met(quality_lead)
    page = client.get(reverse("meeting", args=[meeting.pk]))
    assert page.status_code == 200
    assert "Add a decision" not in text(page)
    assert client.get(reverse("meeting-decide", args=[meeting.pk])).status_code == 403


def test_a_correction_keeps_what_somebody_else_saved(here: Client, quality_lead: Person) -> None:
    meeting = met(quality_lead)
    where = reverse("meeting-correct", args=[meeting.pk])
    here.post(where, sent(version="1", notes="first"))
    answer = here.post(where, sent(version="1", notes="second"))
    assert answer.status_code == 409
    assert Meeting.objects.get().notes == "first"
