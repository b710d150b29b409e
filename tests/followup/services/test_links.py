"""A link is handed out once and kept by nobody."""

import re
from datetime import timedelta

import pytest

from followup.models import InvitationLink
from followup.selectors.invitations import hash_of, link_of
from followup.services import invitations, links
from registry.errors import IllegalTransition
from tests.builders import NOW
from tests.followup.asked import dumped, invited

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_token_is_long_and_random_and_the_database_holds_only_its_hash() -> None:
    invitation, address = invited()
    token = address.removeprefix("/q/").rstrip("/")
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}", token)
    assert InvitationLink.objects.get().token_hash == hash_of(token)
    everything = dumped()
    assert hash_of(token) in everything
    assert token not in everything
    assert invitation.sent_at == NOW


def test_several_links_work_at_once_and_no_two_are_alike() -> None:
    invitation, first = invited()
    second = links.issue_link(invitation=invitation, now=NOW + timedelta(days=7))
    tokens = {address.rstrip("/").rsplit("/", 1)[1] for address in (first, second)}
    assert len(tokens) == 2
    assert all(link_of(token, NOW + timedelta(days=8)) is not None for token in tokens)


def test_the_first_link_says_when_it_was_sent() -> None:
    invitation, _ = invited()
    links.issue_link(invitation=invitation, now=NOW + timedelta(days=7))
    invitation.refresh_from_db()
    assert invitation.sent_at == NOW


def test_no_link_to_what_cannot_be_answered_any_more() -> None:
    invitation, _ = invited()
    with pytest.raises(IllegalTransition, match="time is over"):
        links.issue_link(invitation=invitation, now=NOW + timedelta(days=22))
    by = invitation.review.recorded_by
    invitations.revoke(invitation=invitation, because="sent in error", by=by, now=NOW)
    invitation.refresh_from_db()
    with pytest.raises(IllegalTransition, match="sent in error"):
        links.issue_link(invitation=invitation, now=NOW)
    assert InvitationLink.objects.count() == 1
