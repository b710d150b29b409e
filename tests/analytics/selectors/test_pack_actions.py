from datetime import timedelta

from analytics.selectors.pack_actions import actions
from registry.models import Person
from tests import builders
from tests.analytics.services.test_meetings import became, decided, met
from tests.builders import TODAY

BEFORE = TODAY - timedelta(days=90)


def test_the_last_meetings_decisions_and_what_earlier_ones_left_open(
    quality_lead: Person,
) -> None:
    first, last = met(quality_lead, BEFORE), met(quality_lead, TODAY - timedelta(days=7))
    decided(first, quality_lead, words="From before.", due_on=BEFORE)
    became(decided(first, quality_lead, words="Long done."), "done", quality_lead)
    became(decided(last, quality_lead, words="Given up."), "dropped", quality_lead, words="no use")
    made = actions(quality_lead, [builders.site()], None, TODAY)
    assert [(row[0], row[4]) for row in made.tables[0].rows] == [
        ("Given up.", "Dropped: no use"),
        ("From before.", "Open, overdue"),
    ]


def test_a_meeting_begins_with_the_one_before_it(quality_lead: Person) -> None:
    first, last = met(quality_lead, BEFORE), met(quality_lead)
    decided(first, quality_lead, words="Before.")
    decided(last, quality_lead, words="Now.")
    made = actions(quality_lead, [builders.site()], last, TODAY)
    assert [row[0] for row in made.tables[0].rows] == ["Before."]


def test_meetings_of_other_sites_are_left_out(quality_lead: Person, outsider: Person) -> None:
    decided(met(outsider, TODAY, "south"), outsider)
    assert actions(quality_lead, [builders.site()], None, TODAY).tables == ()
