"""Whether a message still has something to tell, and what it says."""

from datetime import date, timedelta

import pytest
from django.conf import settings

from followup.models import Appointment, Message, MessagePolicy, MessageTemplate, Review
from followup.services import answers, message_contents
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.asked import invited
from tests.outbox import put, reminder, waiting

pytestmark = pytest.mark.usefixtures("defaults")


def why_not(message: Message) -> str:
    return message_contents.outdated(Message.objects.get(pk=message.pk), now=NOW)


def test_a_slot_that_is_no_longer_booked_is_not_announced() -> None:
    message = waiting()
    assert why_not(message) == ""
    Appointment.objects.update(state="cancelled")
    assert why_not(message) == "the slot is cancelled"


def test_a_slot_whose_day_is_over_is_not_announced() -> None:
    message = waiting()
    Appointment.objects.update(on=TODAY - timedelta(days=1))
    assert why_not(message) == "the day of the slot is over"


@pytest.mark.parametrize(
    ("state", "handed", "told"),
    [
        ("sent", False, True),
        ("unknown", True, True),
        ("sending", True, True),
        ("sending", False, False),
        ("failed", True, False),
        ("stopped", False, False),
    ],
)
def test_the_end_of_a_slot_is_told_to_whoever_may_know_of_it(
    state: str, *, handed: bool, told: bool
) -> None:
    first = waiting()
    Message.objects.filter(pk=first.pk).update(
        state=state, handed_at=NOW if handed else None, sent_at=NOW
    )
    Appointment.objects.update(state="cancelled")
    end = Message.objects.create(
        site=first.site,
        patient=first.patient,
        review=first.review,
        appointment=first.appointment,
        purpose="appointment_cancelled",
        key="end",
        wanted_at=NOW,
    )
    assert why_not(end) == ("" if told else "the patient was never told of the slot")


@pytest.mark.parametrize("state", ["booked", "attended", "lapsed", "not_needed"])
def test_nobody_is_reminded_of_what_is_booked_or_done(state: str) -> None:
    message = reminder()
    assert why_not(message) == ""
    more = {
        "attended": {"attended_on": TODAY},
        "not_needed": {"ended_because": "chosen", "ended_reason": "well"},
    }
    Review.objects.filter(pk=message.review_id).update(state=state, **more.get(state, {}))
    assert why_not(message).startswith("the review is ")


def test_nobody_is_reminded_after_the_window() -> None:
    message = reminder()
    day = date(2026, 11, 20)
    Review.objects.filter(pk=message.review_id).update(
        opens_on=day, due_on=day, proposed_on=day, closes_on=day
    )
    assert why_not(message) == "the window of the review is closed"


def test_without_a_link_no_questionnaire_goes() -> None:
    assert message_contents.CONTENTS["questionnaire"]
    message = reminder()
    assert message.review is not None
    asked = put(message.review, purpose="questionnaire")
    template = MessageTemplate.objects.get(purpose="questionnaire", length="short", language="en")
    with pytest.raises(message_contents.NoWords, match=r"nothing is known for \{link\}"):
        message_contents.fill(template, {"site": "North", "phone": "1"})
    assert why_not(asked) == "nobody is invited"


def test_a_questionnaire_goes_with_a_link_of_its_own_while_it_can_be_answered() -> None:
    invitation, _ = invited()
    message = put(invitation.review, purpose="questionnaire")
    Message.objects.filter(pk=message.pk).update(invitation=invitation)
    message.refresh_from_db()
    policy = MessagePolicy(site=message.site)
    assert why_not(message) == ""
    said = [message_contents.draft(message, policy, "email", "en", now=NOW).text for _ in range(2)]
    assert all(f"{settings.PUBLIC_URL}/q/" in text for text in said)
    assert said[0] != said[1]
    answers.complete(invitation=invitation, now=NOW)
    assert why_not(message) == "it was answered"


def test_a_message_is_written_in_the_patients_language_else_the_sites_else_english() -> None:
    message = reminder()
    policy = MessagePolicy(site=message.site, language="de")
    for wanted, found in (("de-CH", "de"), ("fr", "de"), ("en", "en")):
        words = message_contents.draft(message, policy, "text", wanted, now=NOW)
        assert words.template.language == found
    words = message_contents.draft(message, policy, "text", "de", now=NOW)
    assert "Bitte anrufen und einen Tag wählen: die Klinik." in words.text


def test_the_sites_own_words_come_before_the_shipped_ones_of_their_language() -> None:
    message = reminder()
    message.site.telephone = "0555 1"
    policy = MessagePolicy(site=message.site)
    own = {"purpose": "reminder", "length": "long", "made_at": NOW, "subject": "Ring"}
    MessageTemplate.objects.create(site=message.site, language="en", body="{phone}", **own)
    MessageTemplate.objects.create(
        site=builders.site("south"), language="de", body="theirs", number=9, **own
    )
    assert message_contents.draft(message, policy, "email", "en", now=NOW).text == "0555 1"
    german = message_contents.draft(message, policy, "email", "de", now=NOW)
    assert german.template.site is None


def test_without_any_words_it_says_for_what() -> None:
    message = reminder()
    MessageTemplate.objects.filter(length="long").delete()
    policy = MessagePolicy(site=message.site)
    assert message_contents.draft(message, policy, "text", "en", now=NOW)
    with pytest.raises(message_contents.NoWords, match="Reminder of a review, E-mail or letter"):
        message_contents.draft(message, policy, "email", "en", now=NOW)


def test_a_preview_speaks_the_language_of_its_words_and_makes_no_link() -> None:
    message = reminder()
    site = message.site
    words = MessageTemplate.objects.get(purpose="appointment_booked", length="long", language="de")
    shown = message_contents.preview(words, site, None)
    assert "Dienstag, 1. Dezember 2026, um 09:00 Uhr" in shown.text
    words = MessageTemplate.objects.get(purpose="reminder", length="short", language="en")
    real = message_contents.preview(words, site, message.review)
    assert message.review is not None
    assert f"by {message.review.closes_on.day} " in real.text
    asked = MessageTemplate.objects.get(purpose="questionnaire", length="short", language="en")
    assert message_contents.EXAMPLE_LINK in message_contents.preview(asked, site, None).text
