"""Correcting an operation that is already recorded."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from registry import notices
from registry.models.constructs import Construct
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.services import construct_checks, records
from registry.services.enrolment import procedure_possible


def correct_procedure(
    *,
    procedure: Procedure,
    values: Mapping[str, Any],
    expected_version: int,
    reason: str,
    by: Person,
    now: datetime,
    today: date,
) -> Procedure:
    """Correct an operation; a corrected date is announced, so that open reviews can move.

    Raises StaleVersion when somebody changed it first, BadInput when the date is impossible.
    """
    earlier = procedure.performed_on
    for name, value in values.items():
        setattr(procedure, name, value)
    procedure_possible(procedure, today)
    with records.change(by=by, reason=reason):
        records.save(
            procedure, values, by=by, now=now, expected_version=expected_version, reason=reason
        )
        if procedure.performed_on != earlier:
            notices.operation_date_corrected.send(
                sender=Procedure, procedure=procedure, by=by, now=now, today=today
            )
    return procedure


def correct_construct(
    *,
    construct: Construct,
    values: Mapping[str, Any],
    departure_reasons: Mapping[str, str],
    expected_version: int,
    reason: str,
    by: Person,
    now: datetime,
    today: date,
) -> Construct:
    """Correct a construct and note afresh what it departs from; another type is announced.

    Raises StaleVersion when somebody changed it first.
    """
    earlier = construct.construct_type_id
    with records.change(by=by, reason=reason):
        records.save(
            construct, values, by=by, now=now, expected_version=expected_version, reason=reason
        )
        construct_checks.note_departures(
            construct=construct, reasons=departure_reasons, by=by, now=now
        )
        if construct.construct_type_id != earlier:
            notices.construct_recorded.send(
                sender=Construct, procedure=construct.procedure, by=by, now=now, today=today
            )
    return construct
