"""What the invented patients were asked at home, and what they answered."""

import hashlib
import random
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from analytics.simulation import setting
from config.demo.staff import Staff
from followup.models import (
    Answer,
    Invitation,
    InvitationLink,
    Message,
    MessageStep,
    QuestionnaireSetup,
    Review,
    Score,
    UrgentAdvice,
)
from followup.models.messages import MessagePurpose, MessageState, StepKind
from followup.models.reviews import OPEN_STATES, ReviewState
from followup.rules.reminding import EXPIRY_DAYS
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors.questionnaires import contents_of
from followup.services import answers, completion, invitations
from registry.models.patients import PatientStatus

ADVICE = {
    "en": (
        "Ring the shoulder clinic today: 0555 010 2000, from 8 to 16 o'clock. At night and at the "
        "weekend ring 0555 010 2999, or go to the emergency department."
    ),
    "de": (
        "Rufen Sie heute die Schulterambulanz an: 0555 010 2000, von 8 bis 16 Uhr. Nachts und am "
        "Wochenende rufen Sie 0555 010 2999 an oder gehen in die Notaufnahme."
    ),
}
EARLIER, LONGEST_AGO_DAYS = 90, 330
# How many answer before the first reminder, and of those still silent after each.
ANSWER_AT = (0.63, 0.3, 0.3)
SATISFACTION, WORK = ("very", "rather", "neither", "not"), ("same", "lighter", "not_yet", "none")
# One of each way in which a questionnaire can stand today; the numbers are pages answered.
TODAYS: tuple[dict[str, str], ...] = (
    {"pain": "9", "satisfaction": "not", "shape": "yes"},
    {"pain": "2", "function": "85", "satisfaction": "very", "work": "same", "sport": "less"},
    {"pain": "4", "function": "70", "satisfaction": "rather", "hw_rubs": "often", "hw_out": "yes"},
)


def ask_at_home(staff: Staff, *, now: datetime, today: date) -> None:
    """Set up the questionnaires of every site, and let some patients have answered."""
    for site in staff.sites:
        QuestionnaireSetup.objects.create(site=site, invites=True)
        for language, text in ADVICE.items():
            UrgentAdvice.objects.create(
                site=site, language=language, number=1, text=text, made_at=now
            )
    chance = random.Random(setting.DEMO_SEED)  # noqa: S311 - invented patients
    _earlier(staff, chance, now, today)
    _today(staff, now, today)
    # What the next night would find complete by these answers is so from the start.
    completion.complete_attended(by=staff.coordinator, now=now)


def _earlier(staff: Staff, chance: random.Random, now: datetime, today: date) -> None:
    """Write what was asked and answered over the last year."""
    rows = list(
        Review.objects.filter(
            state=ReviewState.ATTENDED,
            attended_on__gt=today - timedelta(days=LONGEST_AGO_DAYS),
            attended_on__lt=today - timedelta(days=EXPIRY_DAYS + 1),
        )
        .select_related("step", "procedure__injury", "site")
        .order_by("pk")
    )
    asking = [row for row in rows if contents_of(row.step, {})]
    chosen = sorted(chance.sample(asking, min(EARLIER, len(asking))), key=lambda row: row.pk)
    made = Invitation.objects.bulk_create(
        [_invitation(review, chance, now, today) for review in chosen]
    )
    InvitationLink.objects.bulk_create(
        InvitationLink(
            invitation=row,
            token_hash=hashlib.sha256(chance.randbytes(32)).hexdigest(),
            issued_at=row.made_at,
        )
        for row in made
    )
    sent = Message.objects.bulk_create(_message(row, chance) for row in made)
    MessageStep.objects.bulk_create(step for message in sent for step in _steps(message))
    given = [(row, _given(chance)) for row in made if row.completed_at is not None]
    Answer.everything.bulk_create(
        answer for row, answered in given for answer in _answers(staff, row, answered)
    )
    scores = [_pain(staff, row, answered) for row, answered in given]
    # A day keeps one score of a mode, also for who came twice that day.
    once = {(score.injury_id, score.taken_on): score for score in scores}
    Score.everything.bulk_create(once.values())


def _message(row: Invitation, chance: random.Random) -> Message:
    return Message(
        site=row.site,
        patient_id=row.review.procedure.injury.patient_id,
        key=f"questionnaire:{row.pk}:0",
        review=row.review,
        invitation=row,
        purpose=MessagePurpose.QUESTIONNAIRE,
        means=chance.choices(("email", "text", "letter"), (5, 4, 1))[0],
        state=MessageState.SENT,
        wanted_at=row.made_at,
        handed_at=row.made_at,
        sent_at=row.made_at,
        tries=1,
    )


def _steps(message: Message) -> Iterator[MessageStep]:
    for kind in (StepKind.CLAIMED, StepKind.HANDING_OVER, StepKind.ACCEPTED):
        yield MessageStep(
            message=message,
            kind=kind,
            at=message.wanted_at,
            round=1,
            number=1,
            means=message.means,
        )


def _invitation(review: Review, chance: random.Random, now: datetime, today: date) -> Invitation:
    on = review.attended_on or review.due_on
    asked = now - (today - on)
    answered_at = next((n for n, share in enumerate(ANSWER_AT) if chance.random() < share), None)
    reminder = len(ANSWER_AT) - 1 if answered_at is None else answered_at
    days = (2, 8, 13)[reminder]
    return Invitation(
        site=review.site,
        review=review,
        contents=list(contents_of(review.step, {})),
        made_at=asked,
        sent_at=asked,
        expires_at=asked + timedelta(days=EXPIRY_DAYS),
        reminder=reminder,
        opened_at=None if answered_at is None else asked + timedelta(days=days),
        completed_at=None if answered_at is None else asked + timedelta(days=days),
        landed_at=None if answered_at is None else asked + timedelta(days=days),
    )


def _given(chance: random.Random) -> dict[str, str]:
    return {
        "pain": str(min(8, int(chance.expovariate(0.45)))),
        "satisfaction": chance.choices(SATISFACTION, (5, 3, 1, 1))[0],
        "work": chance.choices(WORK, (6, 2, 1, 1))[0],
    }


def _answers(staff: Staff, row: Invitation, given: dict[str, str]) -> Iterator[Answer]:
    at = row.completed_at or row.made_at
    for question, value in given.items():
        yield Answer(
            invitation=row,
            site=row.site,
            question=question,
            value=value,
            language=row.language,
            recorded_at=at,
            changed_at=at,
            recorded_by=staff.coordinator,
            changed_by=staff.coordinator,
        )


def _pain(staff: Staff, row: Invitation, given: dict[str, str]) -> Score:
    at = row.completed_at or row.made_at
    return Score(
        injury_id=row.review.procedure.injury_id,
        site=row.site,
        instrument="pain_nrs",
        instrument_version=INSTRUMENTS["pain_nrs"].version,
        taken_on=at.date(),
        value=given["pain"],
        items={"1": float(given["pain"])},
        mode="remote",
        recorded_at=at,
        changed_at=at,
        recorded_by=staff.coordinator,
        changed_by=staff.coordinator,
    )


def _today(staff: Staff, now: datetime, today: date) -> None:
    """Ask some of those whose window is open, and leave each at another place."""
    by, asked = staff.coordinator, now - timedelta(days=3)
    reviews = Review.objects.filter(
        site=staff.sites[0],
        state__in=OPEN_STATES,
        opens_on__lte=today,
        closes_on__gte=today,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
    ).select_related("step", "site", "procedure__injury__patient")
    waiting = [row for row in reviews.order_by("pk") if contents_of(row.step, {})]
    handed = [invitations.hand_over(review=review, by=by, now=asked)[0] for review in waiting[:6]]
    for number, invitation in enumerate(handed):
        if number < len(TODAYS):
            _answer(invitation, TODAYS[number], now)
        elif number == len(TODAYS):
            _answer(invitation, {"pain": "3"}, now, finish=False)
        elif number == len(TODAYS) + 1:
            because = "sent to an old number"
            invitations.revoke(invitation=invitation, because=because, by=by, now=now)


def _answer(
    invitation: Invitation, given: dict[str, str], now: datetime, *, finish: bool = True
) -> None:
    answers.begin(invitation=invitation, now=now)
    answers.keep(invitation=invitation, given=given, next_page="satisfaction", wordings={}, now=now)
    if finish:
        answers.complete(invitation=invitation, now=now)
