"""Holding parts against safety notices: who carries what, at once and at every later change."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef

from registry import notices
from registry.models.constructs import Part
from registry.models.implants import ImplantModel
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.safety_notices import (
    CarrierState,
    CarrierStep,
    CarrierStepKind,
    NoticeCarrier,
    NoticeClosing,
    SafetyNotice,
)
from registry.rules import notice_states
from registry.rules.notice_matching import Certainty, Match
from registry.selectors import safety_notices as selector
from registry.selectors.trace import candidates
from registry.services import records

AT_ONCE = 500
FOUND_SINCE = "somebody was found since whom it is about"
NO_MORE = "nothing that is recorded of it matches the notice any more"


@dataclass
class Found:
    """What the parts of one operation come to for one notice."""

    site_id: int
    match: Match
    words: str


def match_notice(*, notice: SafetyNotice, by: Person, now: datetime) -> int:
    """Find everybody whom a notice is about, at every site; return how many are new.

    Doing it again changes nothing. Who is no longer meant is voided with that reason; steps that
    were taken stay on record.
    """
    with records.change(by=by, reason=f"safety notice {notice.reference}"):
        _alone(notice)
        scopes = selector.scopes_of(notice)
        rows = candidates(scopes).order_by().values_list("construct__procedure_id", flat=True)
        # Fetched first: a plan that nests one question in the other asks the first for each part.
        operations = sorted(set(rows))
        found: dict[int, Found] = {}
        for start in range(0, len(operations), AT_ONCE):
            found |= _found(notice, operations[start : start + AT_ONCE])
        return _settle(notice, found, None, by, now)


def match_operations(*, operations: Collection[int], by: Person, now: datetime) -> int:
    """Hold the parts of some operations against every notice in force; return how many are new."""
    in_force = list(selector.in_force())
    if not in_force or not operations:
        return 0
    known = set(
        NoticeCarrier.objects.filter(procedure__in=operations).values_list("notice_id", flat=True)
    )
    new = 0
    with records.change(by=by):
        for notice in in_force:
            found = _found(notice, operations)
            if found or notice.pk in known:
                _alone(notice)
                new += _settle(notice, found, operations, by, now)
    return new


def match_article(*, article: ImplantModel, by: Person, now: datetime) -> int:
    """Hold every part of an implant model against every notice in force; return how many are new."""
    if not selector.in_force().exists():
        return 0
    rows = Part.objects.filter(implant_model=article)
    operations = set(rows.values_list("construct__procedure_id", flat=True))
    return match_operations(operations=operations, by=by, now=now)


def match_all(*, by: Person, now: datetime) -> int:
    """Hold everything against every notice in force again; return how many are new.

    What is saved is matched at once; this finds what was written past the services.
    """
    return sum(match_notice(notice=one, by=by, now=now) for one in selector.in_force())


def _alone(notice: SafetyNotice) -> None:
    """Let matching, steps and closing of one notice come one after the other."""
    SafetyNotice.objects.select_for_update().filter(pk=notice.pk).first()


def _found(notice: SafetyNotice, operations: Iterable[int]) -> dict[int, Found]:
    """Return, by operation, the surest match of its live parts, with their words."""
    scopes = selector.scopes_of(notice)
    rows = Part.objects.filter(construct__procedure_id__in=operations)
    found: dict[int, Found] = {}
    articles: dict[int, tuple[str, ...]] = {}
    for part in rows.select_related("implant_model", "construct").iterator(AT_ONCE):
        said = selector.match_of(scopes, selector.facts_of(part, articles))
        if said is None:
            continue
        operation = part.construct.procedure_id
        known = found.get(operation)
        match = said if known is None else selector.surest([known.match, said]) or said
        words = f"{part}{_label(part)} ({said.words})"
        both = words if known is None else f"{known.words}; {words}"
        found[operation] = Found(part.site_id, match, both[:300])
    return found


def _label(part: Part) -> str:
    batch = f", batch {part.batch}" if part.batch else ""
    return batch + (f", serial {part.serial}" if part.serial else "")


def _settle(
    notice: SafetyNotice,
    found: dict[int, Found],
    within: Collection[int] | None,
    by: Person,
    now: datetime,
) -> int:
    """Make the carriers of a notice what was found: new ones, surer ones, and none that is not."""
    rows = NoticeCarrier.objects.filter(notice=notice)
    standing = {
        row.procedure_id: row
        for row in (rows if within is None else rows.filter(procedure__in=within))
    }
    _let_go([row for key, row in standing.items() if key not in found], by, now)
    new = {key: one for key, one in found.items() if key not in standing}
    opened = _add(notice, new, by, now)
    for key, row in standing.items():
        if key in found and _differs(row, found[key]):
            opened += _follow(row, found[key], by, now)
    tell(notice=notice, carriers=opened, by=by, now=now)
    return len(new)


def _let_go(rows: Collection[NoticeCarrier], by: Person, now: datetime) -> None:
    """Void who is not meant any more; what was done about them stays on record."""
    gone = NoticeCarrier.everything.filter(pk__in=[row.pk for row in rows])
    if rows:
        records.void_all(gone, by=by, now=now, reason=NO_MORE)
    for row in rows:
        notices.carrier_moved.send(sender=NoticeCarrier, carrier=row, by=by, now=now)


def tell(
    *, notice: SafetyNotice, carriers: Collection[NoticeCarrier], by: Person, now: datetime
) -> None:
    """Open again where a site had closed, and announce who is to be reached or decided about."""
    sites = {row.site_id for row in carriers if row.state in notice_states.OPEN}
    if not sites:
        return
    closed = NoticeClosing.objects.filter(notice=notice, site__in=sites)
    records.void_all(closed, by=by, now=now, reason=FOUND_SINCE)
    to_reach = [row for row in carriers if row.state == CarrierState.TO_REACH]
    notices.carriers_found.send(
        sender=NoticeCarrier, notice=notice, carriers=to_reach, by=by, now=now
    )


def _add(
    notice: SafetyNotice, new: dict[int, Found], by: Person, now: datetime
) -> list[NoticeCarrier]:
    known = facts(new)
    rows = [
        NoticeCarrier(
            notice=notice,
            site_id=one.site_id,
            procedure_id=key,
            sureness=one.match.certainty.value,
            because=one.words,
            state=notice_states.first(
                certain=one.match.certainty is Certainty.CERTAIN,
                removed=known[key].removed,
                died=known[key].died,
            ),
            recorded_at=now,
            recorded_by=by,
            changed_at=now,
            changed_by=by,
        )
        for key, one in new.items()
    ]
    made = NoticeCarrier.objects.bulk_create(rows, batch_size=AT_ONCE)
    steps = [_step(row, CarrierStepKind.FOUND, row.because, by, now) for row in made]
    CarrierStep.objects.bulk_create(steps, batch_size=AT_ONCE)
    return list(made)


def _step(row: NoticeCarrier, kind: str, note: str, by: Person, now: datetime) -> CarrierStep:
    return CarrierStep(
        carrier=row, kind=kind, state=row.state, on=now.date(), note=note, at=now, by=by
    )


def _differs(row: NoticeCarrier, found: Found) -> bool:
    return (row.sureness, row.because) != (found.match.certainty.value, found.words)


def _follow(row: NoticeCarrier, found: Found, by: Person, now: datetime) -> list[NoticeCarrier]:
    """Let a carrier be as sure as its parts are now; return it where it became open by that."""
    was, sureness = row.state, found.match.certainty.value
    state = was
    if found.match.certainty is Certainty.CERTAIN and was in ("undecided", "not_one"):
        known = facts([row.procedure_id])[row.procedure_id]
        state = notice_states.first(certain=True, removed=known.removed, died=known.died)
    elif row.sureness == Certainty.CERTAIN and was == "to_reach":
        state = notice_states.decide_again(was)
    values = {"sureness": sureness, "because": found.words, "state": state}
    kind = CarrierStepKind.MORE_SURE if state != "undecided" else CarrierStepKind.DECIDE_AGAIN
    records.save(row, values, by=by, now=now, expected_version=row.version)
    if state == was:
        return []
    _step(row, kind, found.words, by, now).save()
    notices.carrier_moved.send(sender=NoticeCarrier, carrier=row, by=by, now=now)
    return [row]


@dataclass(frozen=True)
class Known:
    """What the records say of an operation that decides how a carrier begins."""

    removed: bool
    died: bool


def facts(operations: Iterable[int]) -> dict[int, Known]:
    """Return, by operation, whether its construct was removed and its patient died."""
    removals = Procedure.objects.filter(revises=OuterRef("pk"), kind=ProcedureKind.IMPLANT_REMOVAL)
    rows: Any = (
        Procedure.everything.filter(pk__in=list(operations))
        .annotate(removed=Exists(removals))
        .values_list("pk", "removed", "injury__patient__status")
    )
    return {pk: Known(removed, status == PatientStatus.DIED) for pk, removed, status in rows}
