"""Protocols: loading the shipped ones, and saving a change as a new version."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import Max

from followup.models.protocols import Protocol, ProtocolStep, ProtocolVersion
from followup.rules import free_items, requirements, step_milestones
from followup.rules.windows import StepPlan, check_steps
from registry.errors import BadInput, StaleVersion
from registry.models.constructs import ConstructType
from registry.models.people import Person
from registry.services import records

FIRST_DAY = date(2000, 1, 1)


def load_protocols(rows: Iterable[Mapping[str, Any]], *, now: datetime) -> int:
    """Add the shipped protocols that are not there yet; return how many were added."""
    added = 0
    with records.change(by=None, reason="shipped protocols"):
        for row in rows:
            kind = row["construct_type"]
            protocol, new = Protocol.objects.get_or_create(
                purpose=row["purpose"],
                site=None,
                construct_type=ConstructType.objects.get(code=kind) if kind else None,
                defaults={"name": row["name"]},
            )
            if new:
                add_version(
                    protocol=protocol,
                    effective_from=FIRST_DAY,
                    source_note=row["source_note"],
                    steps=row["steps"],
                    by=None,
                    now=now,
                )
                added += 1
    return added


def add_protocol(
    *,
    protocol: Protocol,
    effective_from: date,
    source_note: str,
    steps: Sequence[Mapping[str, Any]],
    by: Person,
    now: datetime,
) -> ProtocolVersion:
    """Save a new protocol with its first version.

    Raises BadInput when its site and construct type have one already, or for steps that cannot be.
    """
    same = Protocol.objects.filter(
        purpose=protocol.purpose,
        site=protocol.site,
        construct_type=protocol.construct_type,
    ).first()
    if same is not None:
        raise BadInput(
            {"construct_type": f"'{same}' is for the same operations; make a new version of it."}
        )
    with records.change(by=by, reason=source_note):
        records.check(protocol)
        protocol.save()
        return add_version(
            protocol=protocol,
            effective_from=effective_from,
            source_note=source_note,
            steps=steps,
            by=by,
            now=now,
        )


def add_version(
    *,
    protocol: Protocol,
    effective_from: date,
    source_note: str,
    steps: Sequence[Mapping[str, Any]],
    by: Person | None,
    now: datetime,
    expected_latest: int | None = None,
) -> ProtocolVersion:
    """Save a new version with its steps; the versions before it stay as they were.

    `expected_latest` is the number of the version that the user started from. Raises StaleVersion
    when there is a newer one; BadInput when there are no steps, when their windows overlap, or when
    the version would begin before one that is there already.
    """
    _check(steps)
    with records.change(by=by, reason=source_note):
        # The lock makes two who save at once come one after the other.
        Protocol.objects.select_for_update().get(pk=protocol.pk)
        last = protocol.versions.aggregate(number=Max("number"), begins=Max("effective_from"))
        latest = last["number"] or 0
        if expected_latest is not None and latest != expected_latest:
            raise StaleVersion(str(protocol), expected=expected_latest, current=latest)
        if last["begins"] is not None and effective_from < last["begins"]:
            raise BadInput({"effective_from": _too_early(latest, last["begins"])})
        version = ProtocolVersion(
            protocol=protocol,
            number=latest + 1,
            effective_from=effective_from,
            source_note=source_note,
            made_at=now,
        )
        records.check(version)
        version.save()
        for step in steps:
            row = ProtocolStep(version=version, **step)
            records.check(row)
            row.save()
    return version


def _check(steps: Sequence[Mapping[str, Any]]) -> None:
    if not steps:
        raise BadInput({"steps": "A protocol needs at least one step."})
    rows = [ProtocolStep(**step) for step in steps]
    try:
        check_steps([plan_of(row) for row in rows])
    except ValueError as fault:
        raise BadInput({"steps": str(fault)}) from fault
    for row in rows:
        _check_collected(row)


def _check_collected(row: ProtocolStep) -> None:
    for view, side in row.film_sides.items():
        if view not in row.film_views or side not in requirements.SIDES:
            told = f"'{row.code}': '{side}' cannot be the side of a '{view}' film of this step"
            raise BadInput({"steps": told})
    try:
        free_items.check(row.free_items)
        step_milestones.check(row.milestones)
    except ValueError as fault:
        raise BadInput({"steps": f"'{row.code}': {fault}"}) from fault


def _too_early(latest: int, begins: date) -> str:
    return (
        f"Version {latest} begins on {begins:%d %b %Y}; "
        "a new version begins on that day or later, so that none is changed behind its back."
    )


def plan_of(step: ProtocolStep) -> StepPlan:
    """Return the plain values of a step that planning needs."""
    return StepPlan(
        code=step.code,
        offset_value=step.offset_value,
        offset_unit=step.offset_unit,
        window_before_days=step.window_before_days,
        window_after_days=step.window_after_days,
    )
