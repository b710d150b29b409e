"""Unwanted events."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from followup import notices
from followup.models.complications import Complication
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
    if event.detected_on > today:
        raise BadInput({"detected_on": f"{event.detected_on} is in the future."})
    if event.detected_on < procedure.performed_on:
        raise BadInput({"detected_on": f"{event.detected_on} is before the operation it followed."})
    with records.change(by=by):
        records.create(event, by=by, now=now)
        notices.complication_recorded.send(sender=Complication, complication=event, by=by, now=now)
    return event
