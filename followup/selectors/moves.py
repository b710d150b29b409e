"""What went out about an injury, and does not come back when it is moved."""

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Q

from followup.models.contacts import ContactAttempt
from followup.models.letters import Letter, LetterState
from followup.models.messages import Message, MessageState
from followup.models.questionnaires import Invitation
from registry.models.injuries import Injury
from registry.models.procedures import Procedure

MOST = 20


@dataclass(frozen=True)
class GoneOut:
    """One thing that reached somebody: what, and what becomes of it."""

    what: str
    becomes: str


def gone_out(injury: Injury) -> list[GoneOut]:
    """Return what reached a patient about an injury, the newest first of each kind."""
    rows = Procedure.everything.filter(injury=injury)
    return gone_out_about(list(rows.values_list("pk", flat=True)))


def gone_out_about(procedures: Collection[int]) -> list[GoneOut]:
    """Return what reached a patient about operations (their keys), the newest first of each kind."""
    way = "review__procedure__in"
    about = Q(**{way: procedures}) | Q(**{f"appointment__{way}": procedures})
    messages = Message.objects.filter(
        about | Q(**{f"invitation__{way}": procedures}),
        state__in=[MessageState.SENT, MessageState.UNKNOWN],
    ).order_by("-pk")
    letters = Letter.objects.filter(**{way: procedures}, state=LetterState.SENT).order_by("-pk")
    tries = ContactAttempt.objects.filter(**{way: procedures}).order_by("-tried_at")
    answered = Invitation.objects.filter(**{way: procedures}, completed_at__isnull=False)
    stays = "stays with whom it went to"
    return [
        *(GoneOut(_message(one), stays) for one in messages[:MOST]),
        *(
            GoneOut(f"Letter: {one}", "names whom it names; write it again")
            for one in letters[:MOST]
        ),
        *(
            GoneOut(f"Try of {one.tried_at:%d %b %Y}: {one.get_outcome_display().lower()}", stays)
            for one in tries[:MOST]
        ),
        *(
            GoneOut(
                f"Answers from home of {one.completed_at:%d %b %Y}",
                "go along: void the scores if somebody else gave them",
            )
            for one in answered[:MOST]
        ),
    ]


def _message(one: Message) -> str:
    day = f" on {one.sent_at:%d %b %Y}" if one.sent_at else ", perhaps"
    return f"{one.get_purpose_display()}, sent{day}"
