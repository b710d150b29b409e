"""A protocol of one hospital's own in two versions, so that there is something to compare and to move."""

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from config.demo.staff import Staff
from followup.models import Protocol, ProtocolStep, ProtocolVersion
from followup.selectors.protocols import version_for
from followup.services import protocols
from followup.services.protocols import FIRST_DAY
from registry.models import ConstructType

CONSTRUCT_TYPE = "LP+A2"
# Long enough ago that some were operated on since, too short for any of them to be seen at 6 months.
IN_FORCE_DAYS = 120
FIRST_NOTE = "As shipped, when the hospital began."
SECOND_NOTE = (
    "Invented: earlier at 6 months, what the patient does again is asked, 24 months is shorter."
)
COPIED = (
    *("code", "name", "offset_value", "offset_unit", "window_before_days", "window_after_days"),
    *("film_views", "film_sides", "motion", "scores", "wound_check", "complication_screen"),
    *("free_items", "milestones", "horizon", "source_note"),
)
# What the second version does otherwise, by step.
CHANGES: Mapping[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    "6m": lambda step: {
        "offset_value": 24,
        "offset_unit": "weeks",
        "free_items": [{"code": "back-at", "words": "what the patient does again"}],
    },
    "12m": lambda step: {"scores": [*step["scores"], "oss"]},
    "24m": lambda step: {"window_after_days": 90},
}


def write_versions(staff: Staff, *, now: datetime, today: date) -> Protocol:
    """Give the first hospital a protocol for one construct type, and a second version of it.

    Whoever was operated on before the second one stays on the first until somebody moves them.
    """
    site, by = staff.sites[0], staff.people["administrator"]
    kind = ConstructType.objects.get(code=CONSTRUCT_TYPE)
    shipped = version_for(site_id=site.pk, construct_type_id=kind.pk, purpose="fixation", on=today)
    if shipped is None:
        raise LookupError("there is no shipped protocol; run load_defaults first")
    steps = _steps(shipped)
    row = Protocol(name=f"After fixation with {kind.name.lower()}", site=site, construct_type=kind)
    first = protocols.add_protocol(
        protocol=row,
        effective_from=FIRST_DAY,
        source_note=FIRST_NOTE,
        steps=steps,
        by=by,
        now=now,
    )
    protocols.add_version(
        protocol=row,
        effective_from=today - timedelta(days=IN_FORCE_DAYS),
        source_note=SECOND_NOTE,
        steps=[{**step, **CHANGES.get(step["code"], _as_it_is)(step)} for step in steps],
        by=by,
        now=now,
        expected_latest=first.number,
    )
    return row


def _as_it_is(step: dict[str, Any]) -> dict[str, Any]:
    return {}


def _steps(version: ProtocolVersion) -> list[dict[str, Any]]:
    rows: list[ProtocolStep] = list(version.steps.all())
    return [{name: getattr(row, name) for name in COPIED} for row in rows]
