"""Entering safety notices, and what becomes of everybody whom one is about."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import Count, QuerySet

from registry import notices
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.safety_notices import (
    CarrierState,
    CarrierStep,
    NoticeCarrier,
    NoticeClosing,
    NoticeScope,
    SafetyNotice,
)
from registry.models.sites import Site
from registry.rules import batches, notice_states
from registry.services import notice_matching, records

# Steps of which the reader will want to know why.
NEEDS_REASON = ("is_one", "is_none", "decide_again", "unreachable", "declined", "opened_again")
BY_REMOVAL = "A removal was recorded"
BY_DEATH = "The death was recorded"
Lines = Sequence[Mapping[str, Any]]


def record_notice(
    *, values: Mapping[str, Any], lines: Lines, by: Person, now: datetime
) -> SafetyNotice:
    """Save a notice with the lines of what it is about, and find everybody at once.

    Raises BadInput naming what cannot be taken: days out of order, a reference that is there
    already, a line that names nothing or a range that is none.
    """
    notice = SafetyNotice(**values, recorded_by=by, recorded_at=now)
    given = _checked(lines)
    _days_in_order(notice)
    records.check(notice)
    with records.change(by=by):
        notice.save()
        for line in given:
            line.notice = notice
            line.save()
        notice_matching.match_notice(notice=notice, by=by, now=now)
    return notice


def correct_notice(
    *,
    notice: SafetyNotice,
    values: Mapping[str, Any],
    lines: Lines,
    expected_version: int,
    by: Person,
    now: datetime,
) -> SafetyNotice:
    """Save a notice over the version that the user saw, and find everybody afresh.

    Raises StaleVersion, and BadInput as `record_notice` does.
    """
    for name, value in values.items():
        setattr(notice, name, value)
    notice.version = expected_version + 1
    given = _checked(lines)
    _days_in_order(notice)
    records.check(notice)
    with records.change(by=by):
        taken = SafetyNotice.objects.filter(pk=notice.pk, version=expected_version).update(
            **values, version=expected_version + 1
        )
        if not taken:
            current = SafetyNotice.objects.values_list("version", flat=True).get(pk=notice.pk)
            raise StaleVersion("The notice", expected=expected_version, current=current)
        _replace(notice, given)
        if notice.withdrawn_on is None:
            notice_matching.match_notice(notice=notice, by=by, now=now)
    return notice


def _days_in_order(notice: SafetyNotice) -> None:
    if notice.received_on < notice.issued_on:
        raise BadInput({"received_on": f"It was issued after that, on {notice.issued_on}."})
    if notice.due_on < notice.received_on:
        raise BadInput({"due_on": f"It was received after that, on {notice.received_on}."})


def _replace(notice: SafetyNotice, given: Sequence[NoticeScope]) -> None:
    """Make the lines of a notice the given ones; a line that stays is not touched."""
    kept = set()
    standing = {_content(line): line.pk for line in notice.scopes.all()}
    for line in given:
        known = standing.get(_content(line))
        if known is None:
            line.notice = notice
            line.save()
        kept.add(known or line.pk)
    notice.scopes.exclude(pk__in=kept).delete()
    # What was read before with it is not so any more.
    notice._prefetched_objects_cache = {}  # type: ignore[attr-defined]


def _content(line: NoticeScope) -> tuple[Any, ...]:
    return tuple(getattr(line, name) for name in SCOPE)


SCOPE = (
    *("device_identifier", "catalogue_number", "batch_first", "batch_last"),
    *("serial_first", "serial_last", "expires_from", "expires_to"),
)


def _checked(lines: Lines) -> list[NoticeScope]:
    """Return lines as rows, each of which names something that can be matched."""
    if not lines:
        raise BadInput({"lines": "Say what the notice is about, in one line at least."})
    rows = []
    for number, line in enumerate(lines, start=1):
        row = NoticeScope(**line)
        try:
            for name in ("batch", "serial"):
                _ends(row, name)
            records.check(row)
        except (BadInput, ValueError) as fault:
            raise BadInput({"lines": f"Line {number}: {fault}"}) from fault
        rows.append(row)
    return rows


def _ends(row: NoticeScope, name: str) -> None:
    first, last = getattr(row, f"{name}_first"), getattr(row, f"{name}_last")
    if last and not first:
        raise ValueError(f"The range ends with {name} {last} and begins with none.")
    if first:
        batches.span(first, last)


def take_step(
    *,
    carrier: NoticeCarrier,
    step: str,
    on: date,
    note: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> NoticeCarrier:
    """Take a step about somebody whom a notice is about; it is kept for good.

    Raises IllegalTransition where it cannot follow, BadInput for a day in the future or before the
    notice and where a reason is missing, StaleVersion when somebody was quicker.
    """
    if step not in notice_states.possible(carrier.state, certain=_is_certain(carrier)):
        # Says which two states do not go together, where it is not the kind of step that is wrong.
        _step_of(step)(carrier.state)
        raise BadInput({"step": "Who surely carries it is not decided about."})
    if step in NEEDS_REASON and not note.strip():
        raise BadInput({"note": "Say why; whoever reads the evidence will ask."})
    if not carrier.notice.issued_on <= on <= now.date():
        raise BadInput(
            {"on": f"{on} is in the future, or before the notice ({carrier.notice.issued_on})."}
        )
    with records.change(by=by):
        moved = _move(carrier, step, on, note, expected_version, by, now)
        return _as_recorded(moved, by, now) if step == "is_one" else moved


def _as_recorded(carrier: NoticeCarrier, by: Person, now: datetime) -> NoticeCarrier:
    """Let somebody who is found to carry it be where the records have them."""
    known = notice_matching.facts([carrier.procedure_id])[carrier.procedure_id]
    if not (known.removed or known.died):
        return carrier
    step, note = ("removed", BY_REMOVAL) if known.removed else ("died", BY_DEATH)
    return _move(carrier, step, now.date(), f"{note} before.", carrier.version, by, now)


def _is_certain(carrier: NoticeCarrier) -> bool:
    return carrier.sureness == "certain"


def _step_of(step: str) -> Any:
    if step not in notice_states.STEPS:
        raise BadInput({"step": f"'{step}' is none of {', '.join(notice_states.STEPS)}."})
    return notice_states.STEPS[step]


def _move(
    carrier: NoticeCarrier,
    step: str,
    on: date,
    note: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> NoticeCarrier:
    state = _step_of(step)(carrier.state)
    records.save(carrier, {"state": state}, by=by, now=now, expected_version=expected_version)
    CarrierStep.objects.create(
        carrier=carrier, kind=step, state=state, on=on, note=note.strip()[:300], at=now, by=by
    )
    notice_matching.tell(notice=carrier.notice, carriers=[carrier], by=by, now=now)
    notices.carrier_moved.send(sender=NoticeCarrier, carrier=carrier, by=by, now=now)
    return carrier


def follow_removal(*, removal: Procedure, by: Person, now: datetime) -> int:
    """Let whoever is to be reached about a construct be done with when it is taken out."""
    note = f"{BY_REMOVAL}, of {removal.performed_on:%d %b %Y}."
    rows = _carriers(procedure_id=removal.revises_id)
    return _move_all(rows, "removed", removal.performed_on, note, by, now)


def follow_voided_removal(*, removal: Procedure, by: Person, now: datetime) -> int:
    """Open again what a removal had ended that is void now."""
    rows = _carriers(procedure_id=removal.revises_id, state=CarrierState.REMOVED)
    ended = [row for row in rows if _last_note(row).startswith(BY_REMOVAL)]
    note = "The removal that was recorded is void."
    return _move_all(ended, "opened_again", now.date(), note, by, now)


def follow_status(*, patient_id: int, died_on: date | None, by: Person, now: datetime) -> int:
    """End what is open about a patient who died; open it again when that was a mistake."""
    rows = _carriers(procedure__injury__patient=patient_id)
    if died_on is not None:
        return _move_all(rows, "died", died_on, f"{BY_DEATH}.", by, now)
    mistaken = [row for row in rows if row.state == "died" and _last_note(row).startswith(BY_DEATH)]
    note = "The death that was recorded is taken back."
    return _move_all(mistaken, "opened_again", now.date(), note, by, now)


def _carriers(**which: Any) -> "QuerySet[Any]":
    return NoticeCarrier.objects.filter(**which).select_related("notice")


def _last_note(carrier: NoticeCarrier) -> str:
    return str(carrier.steps.latest("pk").note)


def _move_all(rows: Any, step: str, on: date, note: str, by: Person, now: datetime) -> int:
    """Take one step about several, of those who can take it and are not done with otherwise."""
    moved = 0
    for row in rows:
        if step in notice_states.possible(row.state, certain=_is_certain(row)):
            _move(row, step, on, note, row.version, by, now)
            moved += 1
    return moved


def close_notice(
    *, notice: SafetyNotice, site: Site, note: str, by: Person, now: datetime
) -> NoticeClosing:
    """Close a notice at a site, where each carrier has an end and each perhaps is decided.

    Raises BadInput saying what is left, or that it is closed already.
    """
    with records.change(by=by):
        notice_matching.match_notice(notice=notice, by=by, now=now)
        if NoticeClosing.objects.filter(notice=notice, site=site).exists():
            raise BadInput(f"{notice.reference} is closed at {site} already.")
        rows = NoticeCarrier.objects.filter(notice=notice, site=site)
        numbers = rows.order_by().values_list("state").annotate(number=Count("pk"))
        by_state: dict[str, int] = dict(numbers)
        done = not notice.must_be_seen
        ends = {*notice_states.ENDS, *([CarrierState.REACHED] if done else [])}
        left = {state: number for state, number in by_state.items() if state not in ends}
        if left:
            told = ", ".join(
                f"{number} {CarrierState(state).label.lower()}" for state, number in left.items()
            )
            raise BadInput(f"{site} cannot close {notice.reference} yet: {told}.")
        return records.create(
            NoticeClosing(
                notice=notice,
                site=site,
                closed_on=now.date(),
                carriers=sum(by_state.values()) - by_state.get("not_one", 0),
                note=note.strip()[:300],
            ),
            by=by,
            now=now,
        )
