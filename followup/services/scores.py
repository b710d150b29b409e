"""Completed instruments."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from followup.models.scores import Score, ScoreMode
from followup.rules.scores import catalogue
from followup.services import days
from registry.errors import BadInput
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.services import records


def record_score(
    *,
    injury: Injury,
    instrument: str,
    taken_on: date,
    total: float | None = None,
    items: Mapping[int, float] | None = None,
    mode: str = ScoreMode.CLINIC,
    by: Person,
    now: datetime,
    today: date,
    expected_version: int | None = None,
) -> Score:
    """Save one instrument from its total or its numbered answers; given again that day, corrected.

    Too many missing answers are kept as 'not computable' with the reason. `expected_version` is that
    of the score that the user saw, 0 for none; left out, any may be corrected. Raises StaleVersion
    when another stands there, BadInput for an unknown instrument, a total outside its range, or a
    day in the future or before the injury.
    """
    if instrument not in catalogue.INSTRUMENTS:
        known = ", ".join(sorted(catalogue.INSTRUMENTS))
        raise BadInput({"instrument": f"'{instrument}' is not known; choose one of {known}."})
    if taken_on > today or taken_on < injury.injured_earliest:
        raise BadInput({"taken_on": f"{taken_on} is in the future or before the injury."})
    days.refuse_after_death(injury, taken_on, "taken_on")
    if total is None and not items:
        raise BadInput({instrument: "Give the total or the numbered answers."})
    result = (
        catalogue.from_items(instrument, dict(items))
        if items
        else catalogue.total(instrument, float(total or 0))
    )
    if not items and not result.computable:
        raise BadInput({instrument: result.reason})
    values = {
        "value": None if result.value is None else Decimal(str(round(result.value, 2))),
        "items": {str(number): answer for number, answer in (items or {}).items()},
        "not_computable_reason": result.reason,
        "mode": mode,
        "hardware_in_place": hardware_in_place(injury, taken_on),
    }
    same_day = Score.objects.filter(injury=injury, instrument=instrument, taken_on=taken_on)
    earlier: Score | None = same_day.first()
    if earlier is not None:
        return records.save(
            earlier,
            values,
            by=by,
            now=now,
            expected_version=earlier.version if expected_version is None else expected_version,
            reason="taken again",
        )
    row = Score(
        injury=injury,
        site=injury.site,
        instrument=instrument,
        instrument_version=catalogue.INSTRUMENTS[instrument].version,
        taken_on=taken_on,
        **values,
    )
    return records.create(row, by=by, now=now)


def hardware_in_place(injury: Injury, on: date) -> str:
    """Say whether hardware was in place on a day: after the last fixation, before its removal."""
    kinds = (
        Procedure.objects.filter(
            injury=injury,
            performed_on__lte=on,
            kind__in=[
                ProcedureKind.FIXATION,
                ProcedureKind.REVISION_FIXATION,
                ProcedureKind.IMPLANT_REMOVAL,
            ],
        )
        .order_by("-performed_on", "-id")
        .values_list("kind", flat=True)
    )
    last = kinds.first()
    return "no" if last in (None, ProcedureKind.IMPLANT_REMOVAL) else "yes"
