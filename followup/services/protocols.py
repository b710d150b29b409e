"""Protocols: loading the shipped ones, and saving a change as a new version."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db.models import Max

from followup.models.protocols import Protocol, ProtocolStep, ProtocolVersion
from followup.rules.windows import StepPlan, check_steps
from registry.errors import BadInput
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


def add_version(
    *,
    protocol: Protocol,
    effective_from: date,
    source_note: str,
    steps: Sequence[Mapping[str, Any]],
    by: Person | None,
    now: datetime,
) -> ProtocolVersion:
    """Save a new version with its steps; the versions before it stay as they were.

    Raises BadInput when there are no steps or their windows overlap.
    """
    if not steps:
        raise BadInput({"steps": "A protocol needs at least one step."})
    plans = [plan_of(ProtocolStep(**step)) for step in steps]
    try:
        check_steps(plans)
    except ValueError as fault:
        raise BadInput({"steps": str(fault)}) from fault
    with records.change(by=by, reason=source_note):
        latest = protocol.versions.aggregate(last=Max("number"))["last"] or 0
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


def plan_of(step: ProtocolStep) -> StepPlan:
    """Return the plain values of a step that planning needs."""
    return StepPlan(
        code=step.code,
        offset_value=step.offset_value,
        offset_unit=step.offset_unit,
        window_before_days=step.window_before_days,
        window_after_days=step.window_after_days,
    )
