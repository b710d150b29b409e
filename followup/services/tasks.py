"""Opening and closing what a person has to do about a patient."""

from collections.abc import Collection
from datetime import date, datetime

from django.db.models import F

from followup.models.reviews import Review
from followup.models.tasks import Task
from registry.errors import BadInput, IllegalTransition
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records


def open_task(
    *,
    site: Site,
    patient: Patient,
    kind: str,
    words: str,
    due_on: date,
    key: str,
    by: Person,
    now: datetime,
    review: Review | None = None,
) -> Task:
    """Open a task, or return the one that its cause `key` has opened already and nobody has done.

    Raises BadInput when a value cannot be taken.
    """
    there = standing(key)
    if there is not None:
        return there
    task = Task(
        site=site,
        patient=patient,
        review=review,
        kind=kind,
        words=words[:300],
        key=key,
        due_on=due_on,
    )
    try:
        return records.create(task, by=by, now=now)
    except BadInput:
        # Somebody else opened it in between; the constraint lets one stand.
        quicker = standing(key)
        if quicker is None:
            raise
        return quicker


def standing(key: str) -> Task | None:
    """Return the open task of a cause, if there is one."""
    return Task.objects.filter(key=key, done_at__isnull=True).first()


def close_task(*, task: Task, note: str, expected_version: int, by: Person, now: datetime) -> Task:
    """Close a task with a note of what was done.

    Raises BadInput without a note, IllegalTransition when it is done already, StaleVersion.
    """
    if not note.strip():
        raise BadInput({"note": "Say what was done, or why nothing is to be done."})
    if task.done_at is not None:
        raise IllegalTransition("The task", present="done", wanted="done")
    values = {"done_at": now, "done_note": note.strip()[:300]}
    return records.save(task, values, by=by, now=now, expected_version=expected_version)


def close_for_patient(
    *, patient: Patient, note: str, by: Person, now: datetime, keep: Collection[str] = ()
) -> int:
    """Close what is open about a patient, but for some kinds, with one note; return how many.

    For what ends together with the follow-up: nobody was asked about each one's version.
    """
    rows = Task.objects.filter(patient=patient, done_at__isnull=True).exclude(kind__in=keep)
    with records.change(by=by, reason=note):
        return rows.update(
            done_at=now,
            done_note=note[:300],
            version=F("version") + 1,
            changed_at=now,
            changed_by=by,
        )


def reopen_for_patient(
    *, patient: Patient, notes: Collection[str], by: Person, now: datetime
) -> int:
    """Open again what was closed with one of some notes and is not open anew; return how many."""
    reopened = 0
    with records.change(by=by, reason="under follow-up again"):
        for task in Task.objects.filter(patient=patient, done_note__in=notes).order_by("-id"):
            if standing(task.key) is None:
                values = {"done_at": None, "done_note": ""}
                records.save(task, values, by=by, now=now, expected_version=task.version)
                reopened += 1
    return reopened
