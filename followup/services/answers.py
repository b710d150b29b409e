"""What a patient answers at home: kept as it is given, heeded at once, turned into scores at the end."""

from collections.abc import Mapping
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db.models import Max, Q
from django.utils import timezone

from followup.models.hardware import SymptomSource
from followup.models.questionnaires import Answer, Invitation
from followup.models.reviews import Review
from followup.models.scores import ScoreMode
from followup.models.tasks import Task, TaskKind
from followup.rules import alarms, complaints, languages, prompts, questions
from followup.rules.scores import catalogue
from followup.selectors import invitations as selector
from followup.services import completion, hardware, messages, scores, tasks
from registry.errors import BadInput, IllegalTransition
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import records
from registry.services.background import background_person

CORRECTED, AGAIN = "corrected by the patient", "given again by the patient"


def begin(*, invitation: Invitation, now: datetime) -> None:
    """Note that a patient has begun; the first time counts."""
    Invitation.objects.filter(pk=invitation.pk, opened_at__isnull=True).update(opened_at=now)


def speak(*, invitation: Invitation, language: str) -> None:
    """Ask on in another language.

    Raises BadInput for one that is not shipped.
    """
    if language not in languages.SHIPPED:
        raise BadInput({"language": f"'{language}' is not shipped."})
    Invitation.objects.filter(pk=invitation.pk).update(language=language)


def keep(
    *,
    invitation: Invitation,
    given: Mapping[str, str],
    next_page: str,
    wordings: Mapping[str, int],
    now: datetime,
) -> dict[str, str]:
    """Keep the answers of one page and remember which comes next; return what is alarming by now.

    An empty answer takes back an earlier one. A task for today is opened for each reason for
    concern, once for an invitation; when the patient corrects the answer, the task says so and
    stays. `wordings` are the rows whose words were shown, by instrument. Raises IllegalTransition
    when the invitation is answered, over or withdrawn.
    """
    by = background_person()
    with records.change(by=by, reason="answered by the patient"):
        row = _held(invitation, now)
        before = alarms.alarms(selector.answers_of(row))
        for code, value in given.items():
            _keep_one(row, code, value, wordings.get(code.partition(":")[0]), by, now)
        Invitation.objects.filter(pk=row.pk).update(at_page=next_page[:24])
        after = alarms.alarms(selector.answers_of(row))
        _raise(row, before, after, by, now)
    return after


def complete(*, invitation: Invitation, now: datetime) -> dict[str, str]:
    """Send the answers off: they become scores, nobody is reminded; return what is alarming.

    Raises IllegalTransition when the invitation is answered, over or withdrawn.
    """
    by = background_person()
    with records.change(by=by, reason="answered by the patient"):
        row = _held(invitation, now)
        # What became scores when an earlier time was over does so again with what came since.
        Invitation.objects.filter(pk=row.pk).update(completed_at=now, landed_at=None)
        messages.stop_about(invitation=row, because="the patient answered")
        land(invitation=row, by=by, now=now)
        return alarms.alarms(selector.answers_of(row))


def land(*, invitation: Invitation, by: Person, now: datetime) -> bool:
    """Turn the answers of an invitation into scores and, where they say so, into the question of
    removal; False when that was done before, there is still time, or nothing is wanted any more.
    """
    with records.change(by=by, reason="answered by the patient"):
        hold_patient(invitation)
        if not Invitation.objects.filter(selector.not_revoked(), pk=invitation.pk).exists():
            return False
        taken = Invitation.objects.filter(
            Q(completed_at__isnull=False) | Q(expires_at__lte=now),
            pk=invitation.pk,
            landed_at__isnull=True,
        ).update(landed_at=now)
        if not taken:
            return False
        given = selector.answers_of(invitation)
        on = _day_of_answers(invitation, now)
        _record_scores(invitation, given, on, by, now)
        _ask_about_hardware(invitation, given, on, by, now)
        # As it stands by now: somebody may have worked on it since the invitation was read.
        standing = Review.objects.select_related("step", "procedure")
        for review in standing.filter(pk=invitation.review_id):
            completion.complete_when_all_is_there(review=review, by=by, now=now)
    return True


def hold_patient(invitation: Invitation) -> None:
    """Lock the patient of an invitation until the change ends.

    Always before the invitation: a change of their status takes the same way down, and two that
    meet from both ends would wait for each other.
    """
    whose = Invitation.objects.filter(pk=invitation.pk).order_by()
    # Where rows can be locked; elsewhere one transaction writes at a time.
    list(
        Patient.everything.select_for_update(no_key=True)
        .filter(pk__in=whose.values("review__procedure__injury__patient_id"))
        .values_list("pk", flat=True)
    )


def _held(invitation: Invitation, now: datetime) -> Invitation:
    """Return the invitation, locked, so that of two devices one comes after the other."""
    hold_patient(invitation)
    row = (
        Invitation.objects.select_for_update(of=("self",))
        .select_related("site", "review__procedure__injury__patient", "review__step")
        .get(pk=invitation.pk)
    )
    closed = selector.closed_because(row, now)
    if closed:
        raise IllegalTransition("The questionnaire", present=closed, wanted="answered")
    return row


def _keep_one(
    row: Invitation, code: str, value: str, wording_id: int | None, by: Person, now: datetime
) -> None:
    there: Answer | None = Answer.objects.filter(invitation=row, question=code).first()
    values = {"value": value, "language": row.language, "wording_id": wording_id}
    if there is None and value:
        answer = Answer(invitation=row, site=row.site, question=code, **values)
        records.create(answer, by=by, now=now)
    elif there is not None and there.value != value:
        records.save(there, values, by=by, now=now, expected_version=there.version)


def _raise(
    row: Invitation,
    before: Mapping[str, str],
    after: Mapping[str, str],
    by: Person,
    now: datetime,
) -> None:
    for reason in alarms.REASONS:
        key = f"alarming_answer:{row.pk}:{reason}"
        there: Task | None = Task.objects.filter(key=key).order_by("-id").first()
        if reason in after and there is None:
            tasks.open_task(
                site=row.site,
                patient=row.review.procedure.injury.patient,
                review=row.review,
                kind=TaskKind.ALARMING_ANSWER,
                words=f"Answered at home: {after[reason]}",
                due_on=_local(row, now).date(),
                key=key,
                by=by,
                now=now,
            )
        elif (
            there is not None and there.done_at is None and (reason in after) != (reason in before)
        ):
            _add_note(row, there, AGAIN if reason in after else CORRECTED, by, now)


def _add_note(row: Invitation, task: Task, note: str, by: Person, now: datetime) -> None:
    words = f"{task.words}; {note} {_local(row, now):%d %b %Y %H:%M}"
    if len(words) <= 300:
        records.save(task, {"words": words}, by=by, now=now, expected_version=task.version)


def _day_of_answers(invitation: Invitation, now: datetime) -> date:
    """Return the day, by the site's calendar, on which the last answer was given."""
    rows = Answer.objects.filter(invitation=invitation)
    last: datetime | None = rows.aggregate(last=Max("changed_at"))["last"]
    return _local(invitation, last or now).date()


def _record_scores(
    invitation: Invitation, given: Mapping[str, str], on: date, by: Person, now: datetime
) -> None:
    mode = ScoreMode.PROXY if given.get("who") == "other" else ScoreMode.REMOTE
    injury = invitation.review.procedure.injury
    today = _local(invitation, now).date()
    for code in invitation.contents:
        instrument = questions.SCORED.get(code, code)
        if instrument not in catalogue.INSTRUMENTS:
            continue
        items = questions.answers_to(code, given)
        if not items:
            continue
        scores.record_score(
            injury=injury,
            instrument=instrument,
            taken_on=on,
            items=items,
            mode=mode,
            by=by,
            now=now,
            today=today,
        )


def _ask_about_hardware(
    invitation: Invitation, given: Mapping[str, str], on: date, by: Person, now: datetime
) -> None:
    complaint = complaints.complaint_of(given)
    procedure = invitation.review.procedure
    if not complaint:
        return
    hardware.note_symptoms(
        procedure=procedure,
        source=SymptomSource.PATIENT,
        words=f"patient answer: {complaint}",
        # The same words in a later questionnaire are a new complaint, other words in this one too.
        fact=prompts.fact_of(SymptomSource.PATIENT, f"{invitation.pk} {complaint}"),
        by=by,
        now=now,
        on=on,
    )


def _local(invitation: Invitation, now: datetime) -> datetime:
    return timezone.localtime(now, ZoneInfo(invitation.site.time_zone))
