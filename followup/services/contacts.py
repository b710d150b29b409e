"""Tries at reaching a patient."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.utils import timezone

from followup.models.contacts import ContactAttempt
from followup.models.messages import Message
from followup.models.reviews import Review
from followup.models.tasks import Task
from followup.services import reaching
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import records


def record_attempt(
    *, review: Review, means: str, outcome: str, note: str, by: Person, now: datetime
) -> ContactAttempt:
    """Write down one try at reaching the patient of a review, and hold it against the policy."""
    patient = review.procedure.injury.patient
    attempt = ContactAttempt(
        patient=patient,
        review=review,
        site=review.site,
        tried_at=now,
        means=means,
        outcome=outcome,
        note=note,
    )
    today = timezone.localtime(now, ZoneInfo(review.site.time_zone)).date()
    with records.change(by=by):
        records.create(attempt, by=by, now=now)
        reaching.decide(patient=patient, site=review.site, by=by, now=now, today=today)
    return attempt


def follow_merge(*, kept: Patient, merged: Patient) -> dict[str, list[int]]:
    """Move contact attempts, messages and tasks to the patient that was kept; return them by table."""
    moved: dict[str, list[int]] = {}
    for rows in _hanging_on(merged):
        moved[rows.model._meta.db_table] = list(rows.values_list("pk", flat=True))
        rows.update(patient=kept)
    return moved


def follow_unmerge(*, kept: Patient, merged: Patient, moved: Mapping[str, Any]) -> None:
    """Give back what a merge had moved and what still hangs on the kept patient."""
    for rows in _hanging_on(kept):
        rows.filter(pk__in=moved.get(rows.model._meta.db_table, [])).update(patient=merged)


def _hanging_on(patient: Patient) -> list[QuerySet[Any]]:
    return [
        ContactAttempt.everything.filter(patient=patient),
        Message.objects.filter(patient=patient),
        Task.everything.filter(patient=patient),
    ]
