"""Telling the coordinator of removal questions that nobody has decided for too long."""

from datetime import date, datetime

from django.db.models import Exists, OuterRef

from followup.models.hardware import HardwareDecision
from followup.models.reviews import Review
from followup.models.tasks import Task, TaskKind
from followup.rules.prompts import Loudness
from followup.selectors import due
from followup.selectors.hardware import placed
from followup.services import tasks
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.selectors.chunks import in_chunks
from registry.services import jobs


def open_for_ignored(*, by: Person, now: datetime, today: date) -> int:
    """Open a task for each question that says 'act' and stands nowhere on the Due list; return how many.

    The Due list shows constructs past their removal time at the next review that is still to come.
    What is left are those without such a review, and hardware that has hurt for long. A task that
    was done is not opened again until the question has been decided and waits anew.
    """
    coming = Review.objects.filter(procedure=OuterRef("procedure"), state__in=due.WAITING)
    rows = (
        placed(HardwareDecision.objects.all(), today)
        .filter(
            loudness=int(Loudness.ACT),
            procedure__injury__patient__status=PatientStatus.ACTIVE,
        )
        .annotate(has_review=Exists(coming))
        .exclude(past_due=True, has_review=True)
        .select_related(
            "site", "procedure__construct__construct_type", "procedure__injury__patient"
        )
    )
    opened = 0
    for chunk in in_chunks(rows):
        keys = [_key(question) for question in chunk]
        told = set(Task.objects.filter(key__in=keys).values_list("key", flat=True))
        for question, key in zip(chunk, keys, strict=True):
            if key not in told:
                _open(question, key, by=by, now=now, today=today)
                opened += 1
        jobs.beat(len(chunk))
    return opened


def close_for(*, decision: HardwareDecision, by: Person, now: datetime) -> None:
    """Close what is open about a question that somebody has decided."""
    waiting = Task.objects.filter(key__startswith=f"removal:{decision.pk}:", done_at__isnull=True)
    for task in waiting:
        note = f"Decided: {decision.get_state_display().lower()}"
        tasks.close_task(task=task, note=note, expected_version=task.version, by=by, now=now)


def _open(question: HardwareDecision, key: str, *, by: Person, now: datetime, today: date) -> None:
    injury = question.procedure.injury
    what = str(getattr(question.procedure, "construct", "hardware")).lower()
    side = injury.get_side_display().lower()
    tasks.open_task(
        site=question.site,
        patient=injury.patient,
        kind=TaskKind.OTHER,
        words=f"Removal of the {what}, {side} shoulder: nobody has decided since "
        f"{question.waiting_since:%d %b %Y}; ask the surgeon for a decision",
        due_on=today,
        key=key,
        by=by,
        now=now,
    )


def _key(question: HardwareDecision) -> str:
    return f"removal:{question.pk}:{question.waiting_since.isoformat()}"
