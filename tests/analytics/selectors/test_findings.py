"""What a decision's figure said then and says now, and the owner's own page."""

import re
from collections.abc import Callable
from datetime import timedelta
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import EndpointChoice, MeetingDecision, Snapshot
from analytics.services.definitions import choose_definition
from registry.models import Membership, Person
from tests import builders
from tests.analytics.records import held, lost
from tests.analytics.services.test_meetings import became, decided, met
from tests.builders import TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def put(here: Client, by: Person, figure: str, words: str = "Look again.") -> MeetingDecision:
    """Write down an action taken from a figure, as the page does."""
    where = reverse("meeting-decide", args=[met(by).pk])
    given = {"words": words, "owner": by.pk, "due_on": "2026-12-01", "figure": figure}
    assert here.post(where, given).status_code == 302
    return MeetingDecision.objects.latest("pk")


def test_a_figure_is_kept_as_it_was_and_shown_beside_what_it_says_now(
    here: Client, quality_lead: Person
) -> None:
    held()
    held()
    row = put(here, quality_lead, "http://here/outcomes/?by=site")
    assert row.figure_said.startswith("By 12 months, 0 of 2 judged lost: 0.0% (0.0% to ")
    assert (row.figure_definition, row.figure_cutoff) == ("rise-3mm", TODAY)
    then = Snapshot.objects.get(content_hash=row.figure_snapshot)
    assert then.kept_for == [f"decision {row.pk}"]
    lost()
    lost()
    for page in (reverse("meetings"), reverse("meeting", args=[row.meeting_id])):
        answer = here.get(page)
        said = text(answer)
        assert "When it was decided (data up to 25 Nov 2026): By 12 months, 0 of 2" in said
        assert "by the same definition): By 12 months, 2 of 4 judged lost: 50.0%" in said
        ways = re.findall(r'href="(/outcomes/\?[^"]*snapshot=[^"]*)"', answer.content.decode())
        shown = [text(here.get(unescape(way))) for way in ways]
        assert "0 of 2" in shown[0]
        assert "2 of 4" in shown[1]


def test_like_is_held_against_like_where_the_site_chooses_another_definition(
    here: Client, quality_lead: Person
) -> None:
    held()
    row = put(here, quality_lead, "/outcomes/")
    choose_definition(site=builders.site(), definition_id="doubled", on=TODAY, by=None)
    answer = here.get(reverse("meetings")).content.decode()
    assert row.figure_definition == "rise-3mm"
    assert "definition=doubled" not in answer
    assert answer.count("definition=rise-3mm") == 2


@pytest.mark.parametrize(
    ("figure", "begins"),
    [
        ("/harms/?horizon=6m", "By 6 months, 0 of "),
        ("/outcomes/following/", "Everybody eligible was judged"),
        ("/outcomes/function/?measure=quickdash", "QuickDASH"),
        ("/outcomes/compare/?against=LP", "No two groups have enough"),
        ("/signals/", ""),
        ("/outcomes/?surgeon=1", ""),
        ("/outcomes/?site=elsewhere", ""),
        ("/outcomes/?horizon=9y", ""),
        ("/outcomes/?snapshot=0123456789ab", ""),
    ],
)
def test_each_page_has_its_finding_or_none_to_keep(
    here: Client, quality_lead: Person, figure: str, begins: str
) -> None:
    held()
    row = put(here, quality_lead, figure)
    assert row.figure == figure
    assert row.figure_said.startswith(begins) if begins else row.figure_said == ""
    assert ("When it was decided" in text(here.get(reverse("meetings")))) == bool(begins)


def test_without_a_chosen_definition_there_is_no_finding(
    here: Client, quality_lead: Person
) -> None:
    held()
    EndpointChoice.objects.all().delete()
    assert put(here, quality_lead, "/outcomes/").figure_said == ""


def test_figures_cost_the_same_however_many_decisions_have_one(
    here: Client, quality_lead: Person, counted: Callable[[], Any]
) -> None:
    held()
    put(here, quality_lead, "/outcomes/")
    here.get(reverse("meetings"))
    with counted() as few:
        here.get(reverse("meetings"))
    for horizon in ("6w", "3m", "6m", "24m"):
        put(here, quality_lead, f"/outcomes/?horizon={horizon}")
    here.get(reverse("meetings"))
    with counted() as many:
        here.get(reverse("meetings"))
    assert len(many) == len(few)


def test_an_owner_without_the_figures_sees_the_own_actions_and_no_other(
    client: Client, quality_lead: Person, coordinator: Person
) -> None:
    meeting = met(quality_lead)
    decided(meeting, quality_lead, words="Call the late ones.", owner=coordinator)
    decided(meeting, quality_lead, words="Read the films again.")
    done = decided(meeting, quality_lead, words="Order lead aprons.", owner=coordinator)
    became(done, "done", quality_lead)
    client.force_login(coordinator)
    assert client.get(reverse("meeting", args=[meeting.pk])).status_code == 403
    answer = client.get(reverse("meetings-own"))
    said = text(answer)
    assert "1 open action" in said
    assert "Call the late ones." in said
    assert "Order lead aprons. Done" in said
    assert "Read the films again." not in said
    assert reverse("meeting", args=[meeting.pk]) not in answer.content.decode()
    assert reverse("meetings-own") in client.get("/", follow=True).content.decode()


def test_who_may_see_the_meeting_gets_a_way_to_it(here: Client, quality_lead: Person) -> None:
    row = decided(met(quality_lead), quality_lead)
    page = here.get(reverse("meetings-own")).content.decode()
    assert reverse("meeting", args=[row.meeting_id]) in page


def test_who_left_the_sites_of_a_meeting_sees_its_actions_no_more(
    client: Client, quality_lead: Person, coordinator: Person
) -> None:
    decided(met(quality_lead), quality_lead, words="Call the late ones.", owner=coordinator)
    builders.site("south")
    Membership.objects.filter(person=coordinator).update(ends_on=TODAY - timedelta(days=1))
    Membership.objects.create(
        person=coordinator,
        site=builders.site("south"),
        role="coordinator",
        starts_on=TODAY - timedelta(days=1),
    )
    client.force_login(coordinator)
    assert "Nothing is open for you" in text(client.get(reverse("meetings-own")))
