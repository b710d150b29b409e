"""Unwanted events."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from followup import notices
from followup.models.complications import Complication
from followup.services import symptoms
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.services import records


def record_complication(
    *,
    procedure: Procedure,
    values: Mapping[str, Any],
    by: Person,
    now: datetime,
    today: date,
) -> Complication:
    """Save one unwanted event after a procedure and announce it.

    Raises BadInput when it was seen in the future or before the procedure.
    """
    event = Complication(procedure=procedure, site=procedure.site, **values)
    _possible(event, today)
    with records.change(by=by):
        records.create(event, by=by, now=now)
        symptoms.heed_complication(complication=event, by=by, now=now)
        notices.complication_recorded.send(sender=Complication, complication=event, by=by, now=now)
    return event


def correct_complication(
    *,
    complication: Complication,
    values: Mapping[str, Any],
    expected_version: int,
    reason: str,
    by: Person,
    now: datetime,
    today: date,
) -> Complication:
    """Correct an unwanted event, grade it or record its end, over the version that the user saw.

    Raises StaleVersion when somebody changed it first, BadInput when a date is impossible.
    """
    for name, value in values.items():
        setattr(complication, name, value)
    _possible(complication, today)
    with records.change(by=by, reason=reason):
        records.save(
            complication,
            values,
            by=by,
            now=now,
            expected_version=expected_version,
            reason=reason,
        )
        symptoms.heed_complication(complication=complication, by=by, now=now)
        notices.complication_recorded.send(
            sender=Complication, complication=complication, by=by, now=now
        )
    return complication


def _possible(event: Complication, today: date) -> None:
    if event.detected_on > today:
        raise BadInput({"detected_on": f"{event.detected_on} is in the future."})
    if event.detected_on < event.procedure.performed_on:
        raise BadInput({"detected_on": f"{event.detected_on} is before the operation it followed."})
    if (event.onset_earliest is None) != (event.onset_latest is None):
        raise BadInput({"onset_latest": "Give both bounds of the onset, or neither."})
    if event.onset_latest is not None and event.onset_latest < event.procedure.performed_on:
        raise BadInput({"onset_latest": f"{event.onset_latest} is before the operation."})
    if event.resolved_on is not None and event.resolved_on > today:
        raise BadInput({"resolved_on": f"{event.resolved_on} is in the future."})
