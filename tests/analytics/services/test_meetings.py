"""What a meeting decided, who does it by when, and what becomes of it."""

from datetime import date, timedelta
from typing import Any

import pytest

from analytics.models import Meeting, MeetingDecision
from analytics.services import meetings
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import AuditEntry, Person
from tests import builders
from tests.builders import NOW, TODAY


def met(by: Person, on: date = TODAY, *codes: str, **values: Any) -> Meeting:
    sites = [builders.site(code) for code in codes or ("north",)]
    given = {"attended": 5, "notes": "", "now": NOW, "today": TODAY, **values}
    return meetings.record_meeting(sites=sites, held_on=on, by=by, **given)


def decided(meeting: Meeting, by: Person, **values: Any) -> MeetingDecision:
    given = {"words": "Film both sides.", "owner": by, "due_on": TODAY, "figure": "", **values}
    return meetings.decide(meeting=meeting, by=by, today=TODAY, **given)


def became(decision: MeetingDecision, kind: str, by: Person, **values: Any) -> MeetingDecision:
    given = {"words": "so it was", "expected_version": decision.version, **values}
    return meetings.follow_up(decision=decision, kind=kind, by=by, today=TODAY, **given)


def test_a_meeting_keeps_its_sites_and_is_in_the_trail(quality_lead: Person) -> None:
    meeting = met(quality_lead, TODAY, "north", "south", notes=" Long talk. ")
    assert [site.code for site in meeting.sites.all()] == ["north", "south"]
    assert meeting.notes == "Long talk."
    tables = set(AuditEntry.objects.values_list("table", flat=True))
    assert {"analytics_meeting", "analytics_meetingsite"} <= tables


@pytest.mark.parametrize(
    ("on", "attended", "words"),
    [(TODAY + timedelta(days=1), 5, "still to come"), (TODAY, 0, "at least whoever")],
)
def test_a_meeting_to_come_or_without_anybody_is_refused(
    quality_lead: Person, on: date, attended: int, words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        met(quality_lead, on, attended=attended)


def test_a_meeting_of_no_site_is_refused(quality_lead: Person) -> None:
    with pytest.raises(BadInput, match="of which sites"):
        meetings.record_meeting(
            sites=[],
            held_on=TODAY,
            attended=3,
            notes="",
            by=quality_lead,
            now=NOW,
            today=TODAY,
        )


def test_a_correction_is_made_over_the_version_that_was_seen(quality_lead: Person) -> None:
    meeting = met(quality_lead)
    values = {"held_on": TODAY, "attended": 9, "notes": "more came"}
    at: dict[str, Any] = {"by": quality_lead, "today": TODAY}
    meetings.correct_meeting(meeting=meeting, values=values, expected_version=1, **at)
    assert (meeting.attended, meeting.version) == (9, 2)
    with pytest.raises(StaleVersion, match="The meeting was changed"):
        meetings.correct_meeting(meeting=meeting, values=values, expected_version=1, **at)


def test_a_decision_with_owner_and_day_is_open_and_one_without_stands(
    quality_lead: Person,
) -> None:
    meeting = met(quality_lead)
    assert decided(meeting, quality_lead).state == "open"
    assert decided(meeting, quality_lead, owner=None, due_on=None).state == "stands"


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"due_on": None}, "due_on"),
        ({"owner": None}, "owner"),
        ({"due_on": TODAY - timedelta(days=1)}, "due_on"),
        ({"words": "  "}, "words"),
        ({"figure": "/patients/"}, "figure"),
    ],
)
def test_half_an_action_is_refused_by_its_field(
    quality_lead: Person, values: dict[str, Any], field: str
) -> None:
    meeting = met(quality_lead)
    with pytest.raises(BadInput) as refused:
        decided(meeting, quality_lead, **values)
    assert list(refused.value.faults) == [field]
    assert not MeetingDecision.objects.exists()


def test_the_address_of_a_figure_is_kept_without_its_host(quality_lead: Person) -> None:
    decision = decided(met(quality_lead), quality_lead, figure="http://here/outcomes/?by=site")
    assert decision.figure == "/outcomes/?by=site"


def test_an_action_is_put_off_done_and_opened_again_and_every_step_is_kept(
    quality_lead: Person,
) -> None:
    decision = decided(met(quality_lead), quality_lead)
    later = TODAY + timedelta(days=30)
    became(decision, "changed", quality_lead, due_on=later)
    assert (decision.state, decision.due_on) == ("open", later)
    became(decision, "done", quality_lead)
    assert decision.state == "done"
    became(decision, "reopened", quality_lead, words="it came back")
    assert decision.state == "open"
    steps = [(step.kind, step.due_on) for step in decision.steps.all()]
    assert steps == [("taken", TODAY), ("changed", later), ("done", later), ("reopened", later)]


@pytest.mark.parametrize("kind", ["done", "dropped", "changed"])
def test_what_is_closed_is_not_closed_again(quality_lead: Person, kind: str) -> None:
    decision = decided(met(quality_lead), quality_lead)
    became(decision, "dropped", quality_lead)
    with pytest.raises(IllegalTransition, match="'dropped'"):
        became(decision, kind, quality_lead)


def test_what_is_open_is_not_opened_again(quality_lead: Person) -> None:
    with pytest.raises(IllegalTransition):
        became(decided(met(quality_lead), quality_lead), "reopened", quality_lead)


def test_a_drop_without_a_reason_is_refused(quality_lead: Person) -> None:
    decision = decided(met(quality_lead), quality_lead)
    with pytest.raises(BadInput, match="Say why it was dropped"):
        became(decision, "dropped", quality_lead, words=" ")
    assert decision.steps.count() == 1


def test_of_two_who_close_an_action_the_second_is_told(quality_lead: Person) -> None:
    decision = decided(met(quality_lead), quality_lead)
    same = MeetingDecision.objects.get(pk=decision.pk)
    became(decision, "done", quality_lead)
    with pytest.raises(StaleVersion):
        became(same, "dropped", quality_lead)
    assert decision.steps.count() == 2
