"""Inviting patients to answer at home, reminding those who have not, and withdrawing the invitation."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from followup.models.messages import MessagePurpose
from followup.models.protocols import ProtocolStep
from followup.models.questionnaires import Answer, Invitation, QuestionnaireSetup
from followup.models.reviews import Review, ReviewState
from followup.rules import languages, reminding
from followup.selectors import invitations as selector
from followup.selectors import questionnaires
from followup.services import answers, links, messages, scores
from registry.errors import BadInput, HoldfastError
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors import choices
from registry.services import jobs, records
from registry.services.background import background_person

ASKED_STATES = (ReviewState.PLANNED, ReviewState.BOOKED, ReviewState.MISSED)
AT_ONCE = 500
# Why an invitation was withdrawn when the patient's follow-up ended, not by somebody's decision.
OPTED_OUT = "opted out of the registry"
WITH_THE_STATUS = [
    OPTED_OUT,
    *(status.label.lower() for status in PatientStatus if status != PatientStatus.ACTIVE),
]
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Invited:
    """How many were invited, reminded, and how many whose time was over left answers to be kept."""

    invited: int
    reminded: int
    landed: int


@dataclass(frozen=True)
class _Practice:
    """What a site asks, in which languages and for how long, read once for many patients."""

    setup: QuestionnaireSetup
    languages: Sequence[str]
    chosen: Mapping[str, Sequence[str]]

    @property
    def site(self) -> Site:
        return self.setup.site


def invite_patients(*, now: datetime) -> Invited:
    """Invite where a window has opened, remind where nobody answered, keep what was left unfinished.

    Twice equals once. Rows are streamed; each patient is a transaction of their own.
    """
    by = background_person()
    invited = reminded = 0
    rows = QuestionnaireSetup.objects.filter(invites=True, site__is_active=True)
    for setup in rows.select_related("site"):
        practice = _practice(setup)
        if practice.languages:
            invited += _invite(practice, by, now)
        reminded += _remind(practice, by, now)
    return Invited(invited, reminded, _land_unfinished(by, now))


def hand_over(*, review: Review, by: Person, now: datetime) -> tuple[Invitation, str]:
    """Return a review's invitation, made or prolonged where need be, and a fresh link to it.

    Raises BadInput where the site has not set up its questionnaires, or nothing is asked, or it was
    answered already.
    """
    setup = questionnaires.setup_of(review.site)
    practice = _practice(setup)
    if not practice.languages or not review.site.telephone:
        raise BadInput(
            f"{review.site} asks nobody at home yet: an administrator gives the number that patients "
            "ring under Setup, Sites, and the urgent advice under Questionnaires."
        )
    with records.change(by=by, reason="questionnaire"):
        there = Invitation.objects.filter(review=review, revoked_at__isnull=True).first()
        if there is None:
            there = _make(practice, review, _language_of(review), now)
        if there is None:
            raise BadInput(f"Nothing is asked at home for {review.step}; choose it under Setup.")
        if there.completed_at is not None:
            raise BadInput(f"The questionnaire of {review.step} was answered already.")
        if there.expires_at <= now:
            _prolong(there, now + timedelta(days=setup.expiry_days), now)
        return there, links.issue_link(invitation=there, now=now, by=by)


def revoke(*, invitation: Invitation, because: str, by: Person | None, now: datetime) -> bool:
    """Withdraw an invitation: its links are dead, its messages do not go; False when it is over.

    What was answered before stays.
    """
    with records.change(by=by, reason=because):
        answers.hold_patient(invitation)
        done = Invitation.objects.filter(
            pk=invitation.pk, revoked_at__isnull=True, completed_at__isnull=True
        ).update(revoked_at=now, revoked_because=because[:200])
        if done:
            messages.stop_about(invitation=invitation, because=because)
    return bool(done)


def revoke_of_patient(*, patient_id: int, because: str, by: Person, now: datetime) -> int:
    """Withdraw every invitation of a patient that is still open; return how many."""
    rows = Invitation.objects.filter(review__procedure__injury__patient_id=patient_id)
    return _revoke_all(rows, because, by, now)


def revoke_of_procedure(*, procedure_id: int, because: str, by: Person, now: datetime) -> int:
    """Withdraw every open invitation about the reviews of an operation; return how many."""
    rows = Invitation.objects.filter(review__procedure_id=procedure_id)
    return _revoke_all(rows, because, by, now)


def _prolong(invitation: Invitation, until: datetime, now: datetime) -> None:
    """Give an invitation that ran out new time: reminders count from now, what comes is landed.

    The reminders that went are not sent once more.
    """
    answers.hold_patient(invitation)
    invitation.expires_at, invitation.sent_at, invitation.landed_at = until, now, None
    Invitation.objects.filter(pk=invitation.pk).update(
        expires_at=until, sent_at=now, landed_at=None
    )


def _local_day(site: Site, now: datetime) -> date:
    """Return the day that it is at a site."""
    return timezone.localtime(now, ZoneInfo(site.time_zone)).date()


def _revoke_all(rows: Any, because: str, by: Person, now: datetime) -> int:
    open_rows = rows.filter(revoked_at__isnull=True, completed_at__isnull=True)
    return sum(revoke(invitation=row, because=because, by=by, now=now) for row in open_rows)


def _practice(setup: QuestionnaireSetup) -> _Practice:
    return _Practice(
        setup,
        questionnaires.languages_of(setup.site_id),
        questionnaires.chosen_contents(setup.site_id),
    )


def _invite(practice: _Practice, by: Person, now: datetime) -> int:
    today = _local_day(practice.site, now)
    # Who is under follow-up again is asked again; what a person withdrew stays withdrawn.
    asked = Invitation.objects.filter(review=OuterRef("pk")).exclude(
        revoked_because__in=WITH_THE_STATUS
    )
    waiting = Review.objects.filter(
        ~Exists(asked),
        site=practice.site,
        state__in=ASKED_STATES,
        opens_on__lte=today,
        closes_on__gte=today,
        procedure__injury__patient__status=PatientStatus.ACTIVE,
    )
    # Whoever opted out of being contacted can still be handed a link when they ask for it.
    waiting = waiting.exclude(procedure__injury__patient__in=choices.not_contacted())
    used = ProtocolStep.objects.filter(pk__in=waiting.order_by().values("step_id"))
    asking = [step.pk for step in used if questionnaires.contents_of(step, practice.chosen)]
    rows = selector.with_language(waiting.filter(step__in=asking).order_by("pk"))
    invited = 0
    for review in rows.select_related("step", "site", "procedure__injury__patient").iterator(
        chunk_size=AT_ONCE
    ):
        with records.change(by=by, reason="questionnaire"):
            made = _make(practice, review, review.language or languages.FIRST, now)
            if made is not None:
                _announce(made, review, 0, now)
                invited += 1
        jobs.beat()
    return invited


def _make(practice: _Practice, review: Review, language: str, now: datetime) -> Invitation | None:
    """Invite the patient of a review; None when nothing is asked, or somebody was quicker."""
    contents = list(questionnaires.contents_of(review.step, practice.chosen))
    injury = review.procedure.injury
    in_place = scores.hardware_in_place(injury, _local_day(practice.site, now))
    if "hardware" in contents and in_place != "yes":
        contents.remove("hardware")
    if not contents:
        return None
    row, new = Invitation.objects.get_or_create(
        review=review,
        revoked_at=None,
        defaults={
            "site": practice.site,
            "contents": contents,
            "language": languages.offered(language, list(practice.languages)),
            "made_at": now,
            "expires_at": now + timedelta(days=practice.setup.expiry_days),
        },
    )
    return row if new else None


def _language_of(review: Review) -> str:
    rows = selector.with_language(Review.objects.filter(pk=review.pk))
    return rows.values_list("language", flat=True).first() or languages.FIRST


def _announce(invitation: Invitation, review: Review, number: int, now: datetime) -> None:
    messages.put(
        patient=review.procedure.injury.patient,
        site=invitation.site,
        purpose=MessagePurpose.QUESTIONNAIRE,
        key=f"questionnaire:{invitation.pk}:{number}",
        review=review,
        invitation=invitation,
        number=number,
        now=now,
    )


def _remind(practice: _Practice, by: Person, now: datetime) -> int:
    days = practice.setup.reminder_days
    if not days:
        return 0
    today = _local_day(practice.site, now)
    rows = selector.open_invitations(now).filter(
        site=practice.site,
        sent_at__lte=now - timedelta(days=min(days) - 1),
        reminder__lt=len(days),
        review__state__in=ASKED_STATES,
    )
    reminded = 0
    for row in rows.select_related("site", "review__procedure__injury__patient").iterator(
        chunk_size=AT_ONCE
    ):
        since = (today - _local_day(practice.site, row.sent_at)).days if row.sent_at else 0
        number = reminding.reminder_due(since, days, row.reminder)
        if number is None:
            continue
        with records.change(by=by, reason="reminder"):
            taken = Invitation.objects.filter(
                pk=row.pk, reminder=row.reminder, completed_at__isnull=True
            ).update(reminder=number)
            if taken:
                _announce(row, row.review, number, now)
                reminded += 1
        jobs.beat()
    return reminded


def _land_unfinished(by: Person, now: datetime) -> int:
    """Turn into scores what was answered before the time was over, though never sent off.

    What cannot be taken is left as it is, told to the log, and tried again the next night.
    """
    given = Answer.objects.filter(invitation=OuterRef("pk")).exclude(value="")
    rows = Invitation.objects.filter(
        Q(expires_at__lte=now) & Exists(given) & selector.not_revoked(),
        completed_at__isnull=True,
        landed_at__isnull=True,
    )
    landed = 0
    for row in rows.select_related("site", "review__procedure__injury").iterator(
        chunk_size=AT_ONCE
    ):
        try:
            landed += answers.land(invitation=row, by=by, now=now)
        except HoldfastError as fault:
            kind = type(fault).__name__
            log.warning("the answers of invitation %s are no scores yet: %s", row.pk, kind)
        jobs.beat()
    return landed
