"""A site's rules and words as they stand, and what a person may see of its messages."""

from datetime import time

import pytest

from followup.models import Message, MessageTemplate
from followup.rules.dispatch import Quiet
from followup.selectors import messages as selector
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.outbox import policy, waiting

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_site_without_rules_of_its_own_sends_by_mail_by_day() -> None:
    rules = selector.rules_of(selector.policy_of(builders.site()))
    assert rules.means == ("email",)
    assert rules.quiet_by("email") == Quiet(time(21), time(8))
    assert (rules.most_a_day, rules.most_a_week) == (1, 3)


def test_the_rules_of_a_site_are_its_own() -> None:
    policy(sends_letter=False, text_quiet_from="19:00", text_quiet_until="10:00", most_a_week=4)
    rules = selector.rules_of(selector.policy_of(builders.site()))
    assert rules.means == ("email", "text")
    assert rules.quiet_by("text") == Quiet(time(19), time(10))
    assert rules.most_a_week == 4
    assert selector.rules_of(selector.policy_of(builders.site("south"))).means == ("email",)


def test_the_newest_words_of_the_site_stand_before_the_shipped() -> None:
    site = builders.site()
    words = {"purpose": "reminder", "length": "short", "language": "en", "made_at": NOW}
    for number in (1, 2):
        MessageTemplate.objects.create(site=site, **words, body=f"ours {number}", number=number)
    found = {
        (row.purpose, row.length, row.language): row for row in selector.current_templates(site)
    }
    assert len(found) == 16
    assert found[("reminder", "short", "en")].body == "ours 2"
    assert found[("reminder", "short", "de")].site is None
    chosen = selector.template_for(site.pk, "reminder", "short", ["en"])
    assert chosen is not None
    assert chosen.body == "ours 2"
    assert selector.template_for(site.pk, "reminder", "short", ["fr"]) is None
    assert selector.last_number(site, "reminder", "short", "en") == 2
    assert selector.last_number(site, "reminder", "short", "fr") == 0


def test_a_person_sees_what_has_to_be_looked_at_at_their_own_sites(
    coordinator: Person, outsider: Person, film_reader: Person
) -> None:
    failed, unknown, waits = waiting(), waiting(), waiting()
    Message.objects.filter(pk=failed.pk).update(state="failed")
    Message.objects.filter(pk=unknown.pk).update(state="unknown")
    assert list(selector.messages_seen(coordinator, "act")) == [unknown, failed]
    assert list(selector.messages_seen(coordinator, "waiting")) == [waits]
    assert selector.messages_seen(coordinator, "all").count() == 3
    assert selector.parked_count(coordinator) == 2
    for nobody in (outsider, film_reader):
        assert selector.messages_seen(nobody, "all").count() == 0
        assert selector.parked_count(nobody) == 0
