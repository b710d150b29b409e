"""What the patients of the rehearsal answer at home, if they do."""

from datetime import date, datetime, timedelta

from config.rehearsal.stage import Stage
from config.rehearsal.work import Lives
from followup.models.questionnaires import Invitation
from followup.rules import questions
from followup.rules.questions import Question
from followup.services import answers

# What is alarming comes up once in so many answers.
ALARMING_SHARE = 0.05


def answer(stage: Stage, lives: Lives, *, now: datetime, today: date) -> int:
    """Let those answer who were asked in the last weeks and feel like it; return how many did."""
    waiting = Invitation.objects.filter(
        site=stage.site,
        sent_at__gt=now - timedelta(days=21),
        expires_at__gt=now,
        completed_at__isnull=True,
        revoked_at__isnull=True,
    ).select_related("review__procedure__injury")
    answered = 0
    for invitation in waiting.order_by("pk"):
        life = lives[invitation.review.procedure.injury.patient_id]
        if not life.draws.chance(life.habits.answers_at_home):
            continue
        alarming = life.draws.chance(ALARMING_SHARE)
        answers.begin(invitation=invitation, now=now)
        answers.keep(
            invitation=invitation,
            given=_given(invitation, alarming=alarming),
            next_page="",
            wordings={},
            now=now,
        )
        answers.complete(invitation=invitation, now=now)
        answered += 1
    return answered


def _given(invitation: Invitation, *, alarming: bool) -> dict[str, str]:
    blocks = [questions.BLOCKS[name] for name in invitation.contents if name in questions.BLOCKS]
    asked = [question for block in blocks for question in block.questions]
    return {one.code: _said(one, alarming=alarming) for one in (questions.WHO, *asked)}


def _said(one: Question, *, alarming: bool) -> str:
    if one.code == "pain":
        return "9" if alarming else "2"
    return one.choices[0].code if one.choices else str((one.low + one.high) // 2)
