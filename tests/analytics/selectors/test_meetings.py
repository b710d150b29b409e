from datetime import timedelta

from analytics.selectors import meetings as selector
from registry.models import Person
from tests import builders
from tests.analytics.services.test_meetings import became, decided, met
from tests.builders import TODAY

BEFORE = TODAY - timedelta(days=90)


def test_what_was_left_open_comes_back_at_the_next_meeting_until_it_is_closed(
    quality_lead: Person,
) -> None:
    first, next_one = met(quality_lead, BEFORE), met(quality_lead)
    action = decided(first, quality_lead)
    decided(first, quality_lead, owner=None, due_on=None)
    assert list(selector.brought_back(quality_lead, next_one)) == [action]
    assert not selector.brought_back(quality_lead, first)
    became(action, "done", quality_lead)
    assert not selector.brought_back(quality_lead, next_one)


def test_the_most_urgent_action_comes_first(quality_lead: Person) -> None:
    meeting = met(quality_lead)
    late = decided(meeting, quality_lead, due_on=TODAY + timedelta(days=60))
    soon = decided(meeting, quality_lead, due_on=TODAY)
    assert list(selector.open_actions(quality_lead)) == [soon, late]


def test_a_meeting_of_two_sites_is_seen_by_whoever_may_see_both(quality_lead: Person) -> None:
    both = builders.person("both", north="quality_lead", south="surgeon")
    shared, own = met(both, TODAY, "north", "south"), met(quality_lead)
    decided(shared, both)
    assert set(selector.meetings(both)) == {shared, own}
    assert list(selector.meetings(quality_lead)) == [own]
    assert not selector.open_actions(quality_lead)


def test_who_may_see_no_figures_sees_no_meeting(
    quality_lead: Person, coordinator: Person, outsider: Person
) -> None:
    met(quality_lead)
    assert not selector.meetings(coordinator)
    assert not selector.meetings(outsider)


def test_the_meeting_before_is_of_the_same_sites(quality_lead: Person) -> None:
    both = builders.person("both", north="quality_lead", south="quality_lead")
    earlier = met(quality_lead, BEFORE)
    met(both, BEFORE + timedelta(days=1), "south")
    now = met(quality_lead)
    assert selector.last_before(both, now) == earlier
    assert selector.last_before(both, earlier) is None


def test_owners_work_at_the_meetings_sites(quality_lead: Person, outsider: Person) -> None:
    assert list(selector.owners([builders.site("north")])) == [quality_lead]


def test_a_list_says_how_many_actions_are_still_open(quality_lead: Person) -> None:
    meeting = met(quality_lead)
    decided(meeting, quality_lead)
    became(decided(meeting, quality_lead), "done", quality_lead)
    assert selector.meetings(quality_lead).get().still_open == 1


def test_decisions_come_with_what_became_of_them(quality_lead: Person) -> None:
    meeting = met(quality_lead)
    became(decided(meeting, quality_lead), "done", quality_lead, words="they do")
    (decision,) = selector.decisions_of(quality_lead, meeting)
    assert [step.words for step in decision.steps.all()] == ["", "they do"]
