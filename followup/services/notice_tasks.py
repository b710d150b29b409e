"""The tasks that safety notices make: one for each patient and site, while something is left to do."""

from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet

from followup.models.tasks import NOTICE_KEY, Task, TaskKind
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.safety_notices import CarrierState, NoticeCarrier, SafetyNotice
from registry.services import records

AT_ONCE = 500
Whose = tuple[int, int, int]


def key_of(whose: Whose) -> str:
    """Return the key of the task about a notice, a site and a patient."""
    return f"{NOTICE_KEY}:{':'.join(str(one) for one in whose)}"


def open_for(
    *, notice: SafetyNotice, carriers: Collection[NoticeCarrier], by: Person, now: datetime
) -> int:
    """Open a task for each patient who is to be reached and has none open; return how many."""
    rows = NoticeCarrier.objects.filter(notice=notice, pk__in=[one.pk for one in carriers])
    return _open(notice, _whose(rows), by, now)


def settle(*, carrier: NoticeCarrier, by: Person, now: datetime) -> None:
    """Close the task about a carrier's patient when nothing is left to do there; else open it."""
    whose = next(iter(_whose(NoticeCarrier.everything.filter(pk=carrier.pk))))
    _settle(carrier.notice, whose, by, now)


def follow(
    *,
    procedures: Collection[int],
    came_from: Patient,
    to: Patient,
    by: Person,
    now: datetime,
) -> None:
    """Let the tasks about what operations left in place be about the patient whose they are by now."""
    carriers = NoticeCarrier.objects.filter(procedure__in=procedures).select_related("notice")
    about = {(row.notice_id, row.site_id): row.notice for row in carriers}
    for (number, site), notice in sorted(about.items(), key=lambda one: one[0]):
        old, new = (number, site, came_from.pk), (number, site, to.pk)
        there = _standing(f"{NOTICE_KEY}:{number}:{site}:")
        if key_of(new) not in there and not _left(notice, old).exists():
            open_one = Task.objects.filter(key=key_of(old), done_at__isnull=True)
            open_one.update(key=key_of(new), patient=to)
        for whose in (old, new):
            _settle(notice, whose, by, now)


def follow_patient(*, came_from: Patient, to: Patient, by: Person, now: datetime) -> None:
    """Let the tasks about a patient follow their operations, which have gone to another entry."""
    theirs = Procedure.everything.filter(injury__patient=to)
    keys = list(theirs.values_list("pk", flat=True))
    follow(procedures=keys, came_from=came_from, to=to, by=by, now=now)


def _carried(whose: Whose) -> "QuerySet[NoticeCarrier]":
    notice, site, patient = whose
    return NoticeCarrier.objects.filter(
        notice=notice, site=site, procedure__injury__patient=patient
    ).select_related("notice")


def _left(notice: SafetyNotice, whose: Whose) -> "QuerySet[NoticeCarrier]":
    return _carried(whose).filter(_to_do(notice))


def _settle(notice: SafetyNotice, whose: Whose, by: Person, now: datetime) -> None:
    if _left(notice, whose).exists():
        _open(notice, {whose}, by, now)
        return
    theirs = _carried(whose)
    said = ", ".join(sorted({row.get_state_display().lower() for row in theirs}))
    _close([key_of(whose)], said or "not about this patient any more", by, now)


def sweep(*, by: Person, now: datetime) -> int:
    """Open what is missing and close what is left over, of every notice; return how many changed.

    What a person closed under the tasks without a step at the notice is open again.
    """
    changed = 0
    for notice in SafetyNotice.objects.all():
        wanted = _whose(NoticeCarrier.objects.filter(_to_do(notice), notice=notice))
        changed += _open(notice, wanted, by, now)
        standing = _standing(f"{NOTICE_KEY}:{notice.pk}:")
        left = standing - {key_of(whose) for whose in wanted}
        changed += _close(left, "nothing is left to do at the notice", by, now)
    return changed


def _to_do(notice: SafetyNotice) -> Q:
    """Return the condition that something is left to do for a person who reaches patients."""
    states = [CarrierState.TO_REACH]
    return Q(state__in=[*states, CarrierState.REACHED] if notice.must_be_seen else states)


def _whose(rows: Any) -> set[Whose]:
    found = rows.order_by().values_list("notice_id", "site_id", "procedure__injury__patient_id")
    return set(found)


def _standing(begins: str) -> set[str]:
    rows = Task.objects.filter(key__startswith=begins, done_at__isnull=True)
    return set(rows.values_list("key", flat=True))


def _open(notice: SafetyNotice, whose: Iterable[Whose], by: Person, now: datetime) -> int:
    there = _standing(f"{NOTICE_KEY}:{notice.pk}:")
    new = sorted(one for one in whose if key_of(one) not in there)
    words = f"{notice.get_kind_display()} {notice.reference}, {notice.title}: reach the patient"
    tasks = [
        Task(
            site_id=one[1],
            patient_id=one[2],
            kind=TaskKind.SAFETY_NOTICE,
            words=words[:300],
            key=key_of(one),
            due_on=max(notice.due_on, now.date()),
            recorded_at=now,
            recorded_by=by,
            changed_at=now,
            changed_by=by,
        )
        for one in new
    ]
    with records.change(by=by):
        Task.objects.bulk_create(tasks, batch_size=AT_ONCE)
    return len(tasks)


def _close(keys: Collection[str], note: str, by: Person, now: datetime) -> int:
    closed = 0
    with records.change(by=by, reason=note):
        for task in Task.objects.filter(key__in=keys, done_at__isnull=True):
            values = {"done_at": now, "done_note": note[:300]}
            records.save(task, values, by=by, now=now, expected_version=task.version)
            closed += 1
    return closed
