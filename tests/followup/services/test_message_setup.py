"""A site's rules and words: checked, versioned, and of two people one saves."""

from datetime import time
from typing import Any

import pytest

from followup.models import MessagePolicy, MessageTemplate
from followup.services import message_setup
from registry.errors import BadInput, StaleVersion
from registry.models import Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")
WORDS = {"purpose": "reminder", "length": "short", "language": "en"}


def wrote(by: Person, seen: int = 0, **values: Any) -> MessageTemplate:
    given = {**WORDS, "subject": "", "body": "Please ring {phone}.", **values}
    return message_setup.save_template(
        site=builders.site(), **given, expected_number=seen, by=by, now=NOW
    )


def test_a_change_of_words_is_a_new_version_and_the_old_one_stays(administrator: Person) -> None:
    first = wrote(administrator)
    second = wrote(administrator, seen=1, body="Please ring {phone} soon.")
    assert (first.number, second.number, second.made_by) == (1, 2, administrator)
    assert list(MessageTemplate.objects.filter(site=builders.site()).values_list("body")) == [
        ("Please ring {phone} soon.",),
        ("Please ring {phone}.",),
    ]


def test_of_two_people_one_writes_the_next_version(administrator: Person) -> None:
    wrote(administrator)
    with pytest.raises(StaleVersion, match="you have version 0, it is now 1"):
        wrote(administrator)
    assert MessageTemplate.objects.filter(site=builders.site()).count() == 1


@pytest.mark.parametrize(
    ("values", "field", "says"),
    [
        ({"body": "Your {plate} hurts"}, "body", "{plate} is not known here"),
        ({"subject": "Hello"}, "subject", "no subject"),
        ({"language": "english"}, "language", "'english' is no language"),
        ({"length": "long"}, "subject", "needs a subject"),
    ],
)
def test_words_that_cannot_be_used_are_refused_and_nothing_is_kept(
    administrator: Person, values: dict[str, Any], field: str, says: str
) -> None:
    with pytest.raises(BadInput) as refused:
        wrote(administrator, **values)
    assert says in refused.value.faults[field]
    assert not MessageTemplate.objects.filter(site=builders.site()).exists()


def test_shipped_words_are_added_once_and_again_when_they_changed() -> None:
    row = {**WORDS, "subject": "", "body": "Ring {phone}."}
    assert message_setup.load_templates([row], now=NOW) == 1
    assert message_setup.load_templates([row], now=NOW) == 0
    newest = MessageTemplate.objects.filter(site=None, **WORDS).order_by("-number").first()
    assert newest is not None
    assert (newest.number, newest.body) == (2, "Ring {phone}.")


def test_rules_are_saved_over_the_version_that_was_seen(administrator: Person) -> None:
    ours = MessagePolicy(site=builders.site())
    given = {"most_a_day": 2, "most_a_week": 5}
    message_setup.save_policy(policy=ours, values=given, expected_version=1, by=administrator)
    late = MessagePolicy(site=builders.site())
    with pytest.raises(StaleVersion):
        message_setup.save_policy(policy=late, values=given, expected_version=1, by=administrator)
    kept = MessagePolicy.objects.get()
    with pytest.raises(StaleVersion):
        message_setup.save_policy(policy=kept, values=given, expected_version=4, by=administrator)
    assert (kept.most_a_day, kept.most_a_week) == (2, 5)


def test_a_week_holds_no_less_than_a_day(administrator: Person) -> None:
    with pytest.raises(BadInput, match="at least what a day does: 4"):
        message_setup.save_policy(
            policy=MessagePolicy(site=builders.site()),
            values={"most_a_day": 4, "most_a_week": 3},
            expected_version=1,
            by=administrator,
        )


@pytest.mark.parametrize("means", ["email", "text"])
def test_what_wakes_somebody_has_quiet_hours(administrator: Person, means: str) -> None:
    ours = MessagePolicy(site=builders.site())
    at_any_hour = {f"{means}_quiet_from": time(12), f"{means}_quiet_until": time(12)}
    with pytest.raises(BadInput) as refused:
        message_setup.save_policy(
            policy=ours, values=at_any_hour, expected_version=1, by=administrator
        )
    assert set(refused.value.faults) == {f"{means}_quiet_until"}
    assert "would go at night" in refused.value.faults[f"{means}_quiet_until"]
    assert not MessagePolicy.objects.exists()


def test_quiet_hours_are_not_ended_by_one_of_their_ends(administrator: Person) -> None:
    with pytest.raises(BadInput, match="text messages would go at night"):
        message_setup.save_policy(
            policy=MessagePolicy(site=builders.site()),
            values={"text_quiet_from": time(8)},
            expected_version=1,
            by=administrator,
        )


def test_letters_may_go_at_any_hour(administrator: Person) -> None:
    message_setup.save_policy(
        policy=MessagePolicy(site=builders.site()),
        values={"letter_quiet_from": time(0), "letter_quiet_until": time(0)},
        expected_version=1,
        by=administrator,
    )
    assert MessagePolicy.objects.get().letter_quiet_from == time(0)
