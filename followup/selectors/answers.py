"""What was answered at home, as a surgeon reads it, and where each questionnaire stands."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, Q
from django.utils import timezone

from followup.models.questionnaires import Answer, Invitation
from followup.models.reviews import OPEN_STATES, Review, ReviewState
from followup.rules import alarms, questions
from followup.selectors import invitations
from followup.selectors.visible import visible
from registry.models.patients import Patient
from registry.selectors.visible import Viewer

ASKABLE = (*OPEN_STATES, ReviewState.MISSED, ReviewState.ATTENDED)


@dataclass(frozen=True)
class Answered:
    """One questionnaire's answers to questions of ours; items of instruments are in their scores."""

    injury_id: int
    on: date
    step: str
    finished: bool
    lines: tuple[str, ...]
    alarming: tuple[str, ...]


@dataclass(frozen=True)
class InvitationLine:
    """One review and its questionnaire, if there is one."""

    review: Review
    invitation: Invitation | None
    state: str
    may_issue: bool
    may_revoke: bool

    @property
    def words(self) -> str:
        """Say where it stands."""
        return invitations.STATE_WORDS.get(self.state, "nobody asked yet")


def of_injuries(user: Viewer, injuries: Iterable[int]) -> list[Answered]:
    """Return what was answered at home about some injuries, oldest first; one query."""
    rows = (
        visible(user, Answer)
        .filter(invitation__review__procedure__injury__in=list(injuries))
        .exclude(value="")
        .select_related("invitation__review__step", "invitation__review__procedure", "site")
        .order_by("invitation", "id")
    )
    by_invitation: dict[int, list[Answer]] = {}
    for row in rows:
        by_invitation.setdefault(row.invitation_id, []).append(row)
    found = [_answered(some) for some in by_invitation.values()]
    return sorted(found, key=lambda one: one.on)


def invitation_lines(
    user: Viewer, patient: Patient, now: datetime, today: date
) -> list[InvitationLine]:
    """Return the reviews of a patient about which they are, or may be, asked; two queries."""
    asked = visible(user, Invitation).order_by("id")
    rows = (
        visible(user, Review)
        .filter(procedure__injury__patient=patient)
        .filter(
            Q(invitations__isnull=False)
            | Q(state__in=ASKABLE, opens_on__lte=today, closes_on__gte=today)
        )
        .distinct()
        .select_related("step")
        .prefetch_related(Prefetch("invitations", queryset=asked, to_attr="invited"))
        .order_by("due_on", "id")
    )
    return [_line(review, now) for review in rows]


def _line(review: Any, now: datetime) -> InvitationLine:
    standing = [row for row in review.invited if row.revoked_at is None]
    invitation = (standing or review.invited or [None])[-1]
    state = invitations.state_of(invitation, now) if invitation is not None else ""
    over = review.state in (ReviewState.NOT_NEEDED, ReviewState.LAPSED)
    return InvitationLine(
        review,
        invitation,
        state,
        may_issue=state != "answered" and not over,
        may_revoke=state in ("waiting", "sent", "begun"),
    )


def _answered(rows: list[Answer]) -> Answered:
    first = rows[0].invitation
    given = {row.question: row.value for row in rows}
    last = max(row.changed_at for row in rows)
    on = timezone.localtime(last, ZoneInfo(rows[0].site.time_zone)).date()
    said = (
        questions.words_of(code, value) for code, value in given.items() if code in questions.HOUSE
    )
    return Answered(
        first.review.procedure.injury_id,
        on,
        str(first.review.step),
        first.completed_at is not None,
        tuple(f"{name}: {words}" for name, words in said),
        tuple(alarms.alarms(given).values()),
    )
