"""Which invitations can be answered, by which link, and how they stand."""

import hashlib
from datetime import datetime
from typing import Any

from django.db.models import F, Q, QuerySet

from followup.models.questionnaires import Answer, Invitation, InvitationLink
from followup.models.reviews import ReviewState
from registry.models.patients import PatientStatus

STATE_WORDS = {
    "answered": "answered",
    "revoked": "withdrawn",
    "expired": "time is over",
    "begun": "begun, not finished",
    "sent": "sent, not opened",
    "waiting": "waits to be sent",
}


def hash_of(token: str) -> str:
    """Return what is kept of a token: its SHA-256. A token has 256 random bits and needs no salt."""
    return hashlib.sha256(token.encode()).hexdigest()


def not_revoked() -> Q:
    """Return the condition that an invitation's review and patient still want an answer."""
    return Q(
        revoked_at__isnull=True,
        review__voided_at__isnull=True,
        review__procedure__injury__patient__status=PatientStatus.ACTIVE,
    ) & ~Q(review__state=ReviewState.NOT_NEEDED)


def open_invitations(now: datetime) -> QuerySet[Invitation]:
    """Return the invitations that can be answered now."""
    return Invitation.objects.filter(not_revoked(), completed_at__isnull=True, expires_at__gt=now)


def link_of(token: str, now: datetime) -> InvitationLink | None:
    """Return the link of a token whose invitation can be answered now; found by hash, in one query."""
    return InvitationLink.objects.filter(
        token_hash=hash_of(token), invitation__in=open_invitations(now).order_by().values("pk")
    ).first()


def invitation_behind(link_id: int, now: datetime) -> Invitation | None:
    """Return the invitation of a link that was opened, while it can be answered or was completed."""
    rows = Invitation.objects.filter(
        not_revoked() & (Q(completed_at__isnull=False) | Q(expires_at__gt=now)), links=link_id
    )
    return rows.select_related("site__questionnaire_setup").first()


def closed_because(invitation: Invitation, now: datetime) -> str:
    """Say why an invitation cannot be answered any more, '' when it can."""
    if invitation.completed_at is not None:
        return "it was answered"
    if invitation.revoked_at is not None:
        return f"it was withdrawn: {invitation.revoked_because}"
    if invitation.expires_at <= now:
        return "its time is over"
    if not open_invitations(now).filter(pk=invitation.pk).exists():
        return "the review or the follow-up has ended"
    return ""


def answers_of(invitation: Invitation) -> dict[str, str]:
    """Return the answers that were given, by question."""
    rows = Answer.objects.filter(invitation=invitation).exclude(value="")
    return dict(rows.values_list("question", "value"))


def state_of(invitation: Any, now: datetime) -> str:
    """Return the code of where an invitation stands; the words are in STATE_WORDS."""
    if invitation.completed_at is not None:
        return "answered"
    if invitation.revoked_at is not None:
        return "revoked"
    if invitation.expires_at <= now:
        return "expired"
    if invitation.opened_at is not None:
        return "begun"
    return "sent" if invitation.sent_at is not None else "waiting"


def with_language(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Add to reviews the language of their patients, and nothing else of who they are."""
    spoken: QuerySet[Any] = rows.annotate(
        language=F("procedure__injury__patient__identity__language")
    )
    return spoken
