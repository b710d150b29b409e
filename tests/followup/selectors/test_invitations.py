"""Which link opens what, and how an invitation stands."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models import Invitation, InvitationLink, Review
from followup.selectors import invitations as selector
from followup.services import answers, invitations
from tests.builders import NOW
from tests.followup.asked import invited

pytestmark = pytest.mark.usefixtures("defaults")


def token(address: str) -> str:
    return address.removeprefix("/q/").rstrip("/")


def test_a_good_token_finds_its_own_invitation_in_one_query(counted: Any) -> None:
    invitation, address = invited()
    invited()
    with counted() as queries:
        link = selector.link_of(token(address), NOW)
    assert link is not None
    assert link.invitation_id == invitation.pk
    assert len(queries) == 1


@pytest.mark.parametrize("wrong", ["", "x", "A" * 43, "\x00", "'; --"])
def test_a_guess_finds_nothing(wrong: str) -> None:
    invited()
    assert selector.link_of(wrong, NOW) is None


def test_the_hash_itself_opens_nothing() -> None:
    invited()
    assert selector.link_of(InvitationLink.objects.get().token_hash, NOW) is None


def test_a_link_dies_with_its_time_its_answer_its_withdrawal_and_its_review() -> None:
    invitation, address = invited()
    key = token(address)
    assert selector.link_of(key, NOW + timedelta(days=20)) is not None
    assert selector.link_of(key, NOW + timedelta(days=21)) is None
    assert selector.closed_because(invitation, NOW + timedelta(days=21)) == "its time is over"
    Review.objects.update(state="not_needed", ended_because="revision")
    assert selector.link_of(key, NOW) is None
    assert selector.closed_because(invitation, NOW) == "the review or the follow-up has ended"
    Review.objects.update(state="planned", ended_because="")
    answers.complete(invitation=invitation, now=NOW)
    assert selector.link_of(key, NOW) is None
    other, second = invited()
    by = other.review.recorded_by
    invitations.revoke(invitation=other, because="in error", by=by, now=NOW)
    assert selector.link_of(token(second), NOW) is None


def test_behind_an_opened_link_stands_what_was_completed_too() -> None:
    invitation, _ = invited()
    link = InvitationLink.objects.get().pk
    answers.complete(invitation=invitation, now=NOW)
    assert selector.invitation_behind(link, NOW) == invitation
    assert selector.invitation_behind(link + 1, NOW) is None


def test_how_an_invitation_stands() -> None:
    made = {"made_at": NOW, "expires_at": NOW + timedelta(days=21)}
    states = [
        ({}, "waiting"),
        ({"sent_at": NOW}, "sent"),
        ({"sent_at": NOW, "opened_at": NOW}, "begun"),
        ({"sent_at": NOW, "completed_at": NOW}, "answered"),
        ({"revoked_at": NOW}, "revoked"),
        ({"expires_at": NOW}, "expired"),
    ]
    for values, state in states:
        assert selector.state_of(Invitation(**{**made, **values}), NOW) == state
        assert selector.STATE_WORDS[state]


def test_answers_that_were_taken_back_are_none() -> None:
    invitation, _ = invited()
    for value in ("4", ""):
        answers.keep(
            invitation=invitation,
            given={"pain": value, "work": "same"},
            next_page="",
            wordings={},
            now=NOW,
        )
    assert selector.answers_of(invitation) == {"work": "same"}


def test_of_reviews_only_the_language_of_the_patient_is_read() -> None:
    invitation, _ = invited(language="de")
    rows = selector.with_language(Review.objects.filter(pk=invitation.review_id))
    assert rows.get().language == "de"
    assert "family_name" not in str(rows.query)
