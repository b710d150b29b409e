"""Reviews that wait for a slot, with the dates that a test names and nothing else."""

from datetime import date, timedelta
from itertools import count
from typing import Any

from followup.models import ProtocolStep, Review
from followup.models.protocols import Protocol, ProtocolVersion
from registry.models import Person, Site
from registry.services import records
from tests import builders
from tests.builders import NOW

TUESDAY = date(2026, 12, 1)
_numbers = count(1)


def step() -> ProtocolStep:
    """Return the one step of a protocol that plans nothing by itself."""
    protocol, _ = Protocol.objects.get_or_create(name="By hand", purpose="removal")
    version, _ = ProtocolVersion.objects.get_or_create(
        protocol=protocol, number=1, defaults={"effective_from": "2020-01-01", "made_at": NOW}
    )
    return ProtocolStep.objects.get_or_create(
        version=version,
        code="6w",
        defaults={
            "name": "6 weeks",
            "offset_value": 6,
            "offset_unit": "weeks",
            "window_before_days": 7,
            "window_after_days": 14,
            "film_views": ["zanca"],
        },
    )[0]


def waiting(
    due_on: date = TUESDAY,
    before: int = 7,
    after: int = 14,
    *,
    proposed_on: date | None = None,
    at: Site | None = None,
    surgeon: Person | None = None,
    **values: Any,
) -> Review:
    """Return a planned review of a patient of its own, by default due on Tuesday 1 December 2026."""
    patient = builders.patient(at or builders.site())
    operation = builders.procedure(builders.injury(patient), kind="fixation", surgeon=surgeon)
    row = Review(
        procedure=operation,
        site=patient.site,
        step=step(),
        opens_on=due_on - timedelta(days=before),
        due_on=due_on,
        closes_on=due_on + timedelta(days=after),
        proposed_on=proposed_on or due_on,
        **values,
    )
    return records.create(row, by=patient.recorded_by, now=NOW)
