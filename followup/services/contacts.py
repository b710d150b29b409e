"""Tries at reaching a patient."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.utils import timezone

from followup.models.contacts import ContactAttempt, Unreachable
from followup.models.hospital_slots import HospitalSlot
from followup.models.messages import Message
from followup.models.replies import Reply
from followup.models.reviews import Review
from followup.models.tasks import NOTICE_KEY, Task
from followup.services import reaching
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.retention import RetentionHold
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
    """Move what hangs on a patient to the one that was kept; return it by table.

    Where the kept one has the like already - is out of reach at that site, or the answer is theirs too -
    it stays with the entry that is no longer seen.
    """
    moved: dict[str, list[int]] = {}
    for rows in (*_hanging_on(merged), _out_of_reach(kept, merged), _answers(kept, merged)):
        keys = list(rows.values_list("pk", flat=True))
        moved[rows.model._meta.db_table] = keys
        rows.model._base_manager.filter(pk__in=keys).update(patient=kept)
    return moved


def follow_unmerge(*, kept: Patient, merged: Patient, moved: Mapping[str, Any]) -> None:
    """Give back what a merge had moved and what still hangs on the kept patient.

    An open task about a safety notice that is the kept patient's by its key is not touched: it is of
    whoever still carries the part, as `notice_tasks.follow` says.
    """
    ours = Q(key__startswith=f"{NOTICE_KEY}:", key__endswith=f":{kept.pk}", done_at__isnull=True)
    more: tuple[QuerySet[Any], ...] = (
        Unreachable.everything.filter(patient=kept),
        Reply.patients.through._default_manager.filter(patient=kept),
    )
    for rows in (*_hanging_on(kept), *more):
        theirs = rows.filter(pk__in=moved.get(rows.model._meta.db_table, []))
        if rows.model is Task:
            theirs = theirs.exclude(ours)
        theirs.update(patient=merged)


def _out_of_reach(kept: Patient, merged: Patient) -> QuerySet[Any]:
    there = Unreachable.objects.filter(patient=kept, ended_on__isnull=True).values("site_id")
    theirs: QuerySet[Any] = Unreachable.everything.filter(patient=merged)
    return theirs.exclude(site_id__in=there, ended_on__isnull=True, voided_at__isnull=True)


def _answers(kept: Patient, merged: Patient) -> QuerySet[Any]:
    through: Any = Reply.patients.through
    there = through.objects.filter(patient=kept).values("reply_id")
    rows: QuerySet[Any] = through.objects.filter(patient=merged).exclude(reply_id__in=there)
    return rows


def _hanging_on(patient: Patient) -> list[QuerySet[Any]]:
    return [
        ContactAttempt.everything.filter(patient=patient),
        Message.objects.filter(patient=patient),
        Task.everything.filter(patient=patient),
        HospitalSlot.objects.filter(patient=patient),
        RetentionHold.objects.filter(patient=patient),
    ]
