"""Links for patients: made at random, handed out once, kept only as a hash."""

import secrets
from datetime import datetime

from django.conf import settings
from django.urls import reverse

from followup.models.questionnaires import Invitation, InvitationLink
from followup.selectors import invitations
from registry.errors import IllegalTransition
from registry.models.people import Person
from registry.services import records

TOKEN_BYTES = 32


def issue_link(*, invitation: Invitation, now: datetime, by: Person | None = None) -> str:
    """Return a fresh link to an invitation; every link works until it is answered, over or revoked.

    The address is in nobody's hands but the caller's: what is kept is the hash of its token. Raises
    IllegalTransition when the invitation cannot be answered any more.
    """
    closed = invitations.closed_because(invitation, now)
    if closed:
        raise IllegalTransition("The questionnaire", present=closed, wanted="sent")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with records.change(by=by, reason="a link was handed out"):
        InvitationLink.objects.create(
            invitation=invitation,
            token_hash=invitations.hash_of(token),
            issued_at=now,
            issued_by=by,
        )
        Invitation.objects.filter(pk=invitation.pk, sent_at__isnull=True).update(sent_at=now)
    invitation.sent_at = invitation.sent_at or now
    return f"{settings.PUBLIC_URL}{reverse('questionnaire-open', args=[token])}"
