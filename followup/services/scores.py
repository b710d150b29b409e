"""Completed instruments."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist

from followup.models.scores import Score, ScoreMode
from followup.rules.scores import catalogue, norms
from followup.services import days
from registry.errors import BadInput
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.rules.dates import Bounds, age_on
from registry.services import records

ABOUT_HARDWARE = (
    ProcedureKind.FIXATION,
    ProcedureKind.REVISION_FIXATION,
    ProcedureKind.IMPLANT_REMOVAL,
)


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

    A day keeps one score of each mode: what the patient answered at home and what was asked in
    clinic stand beside each other. Too many missing answers, and answers that an item cannot take,
    are kept as 'not computable' with the reason. `expected_version` is that of the score that the
    user saw, 0 for none; left out, any may be corrected. Raises StaleVersion when another stands
    there, BadInput for an unknown instrument, a total outside its range, or a day in the future or
    before the injury.
    """
    kept_as = kept_code(instrument)
    if taken_on > today or taken_on < injury.injured_earliest:
        raise BadInput({"taken_on": f"{taken_on} is in the future or before the injury."})
    days.refuse_after_death(injury, taken_on, "taken_on")
    values = _values(injury, instrument, taken_on, total=total, items=items, mode=mode)
    wanted = (kept_as, taken_on, mode)
    earlier = next(
        (
            one
            for one in records.under(Score, injury=injury)
            if (one.instrument, one.taken_on, one.mode) == wanted
        ),
        None,
    )
    if earlier is not None:
        return records.save(
            earlier,
            values,
            by=by,
            now=now,
            expected_version=earlier.version if expected_version is None else expected_version,
            reason="taken again",
        )
    row = Score(injury=injury, site=injury.site, instrument=kept_as, taken_on=taken_on, **values)
    return records.create(row, by=by, now=now)


def correct_score(
    *,
    score: Score,
    total: float | None = None,
    items: Mapping[int, float] | None = None,
    mode: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> Score:
    """Correct a score's total, answers or mode over the version that the user saw.

    Raises StaleVersion, and BadInput for a total outside its range or a mode in which the same
    instrument was taken that day already.
    """
    twin = Score.objects.filter(
        injury=score.injury, instrument=score.instrument, taken_on=score.taken_on, mode=mode
    ).exclude(pk=score.pk)
    if twin.exists():
        told = f"There is a score of {score.taken_on} taken this way already; void one of the two."
        raise BadInput({"mode": told})
    values = _values(
        score.injury, score.instrument, score.taken_on, total=total, items=items, mode=mode
    )
    # How it was taken is not changed by correcting a number.
    values["instrument_version"] = score.instrument_version
    return records.save(
        score, values, by=by, now=now, expected_version=expected_version, reason="corrected"
    )


def kept_code(instrument: str) -> str:
    """Return the code under which an instrument's scores are kept.

    Raises BadInput for an instrument that is not known.
    """
    if instrument in catalogue.OLDER_FORMS:
        return catalogue.OLDER_FORMS[instrument].kept_as
    if instrument not in catalogue.INSTRUMENTS:
        known = ", ".join(sorted({*catalogue.INSTRUMENTS, *catalogue.OLDER_FORMS}))
        raise BadInput({"instrument": f"'{instrument}' is not known; choose one of {known}."})
    return instrument


def _values(
    injury: Injury,
    instrument: str,
    taken_on: date,
    *,
    total: float | None,
    items: Mapping[int, float] | None,
    mode: str,
) -> dict[str, Any]:
    if total is None and not items:
        raise BadInput({instrument: "Give the total or the numbered answers."})
    result = (
        catalogue.from_items(instrument, dict(items))
        if items
        else catalogue.total(instrument, float(total or 0))
    )
    if not items and not result.computable:
        raise BadInput({instrument: result.reason})
    kept = kept_code(instrument)
    older = catalogue.OLDER_FORMS.get(instrument)
    answers = {
        str(number): older.answer(answer) if older is not None else answer
        for number, answer in (items or {}).items()
    }
    return {
        "value": None if result.value is None else Decimal(str(round(result.value, 2))),
        "items": answers,
        "instrument_version": older.version if older else catalogue.INSTRUMENTS[kept].version,
        "not_computable_reason": result.reason[:200],
        "mode": mode,
        "hardware_in_place": hardware_in_place(injury, taken_on),
        **_relative(injury, kept, taken_on, result.value),
    }


def relative_share(score: Score) -> dict[str, Any]:
    """Return what a score is of the norm for whose it is by now, as its columns hold it."""
    value = None if score.value is None else float(score.value)
    return _relative(score.injury, score.instrument, score.taken_on, value)


def _relative(injury: Injury, kept: str, on: date, value: float | None) -> dict[str, Any]:
    """Compare a Constant-Murley score with the norms that the service has switched on, if any."""
    table = norms.TABLES.get(settings.CONSTANT_NORMS)
    nothing = {"relative_pct": None, "relative_to": ""}
    if kept != "constant" or table is None or value is None:
        return nothing
    try:
        identity = injury.patient.identity
    except ObjectDoesNotExist:
        return nothing
    first, last = identity.birth_earliest, identity.birth_latest
    ages = (age_on(Bounds(last, last), on), age_on(Bounds(first, first), on))
    share = norms.relative(value, table, ages=ages, sex=identity.sex)
    if share.value is None:
        return nothing
    return {"relative_pct": Decimal(str(round(share.value, 1))), "relative_to": table.label}


def hardware_in_place(injury: Injury, on: date) -> str:
    """Say whether hardware was in place on a day: after the last fixation, before its removal."""
    return in_place_after(records.under(Procedure, injury=injury), on)


def in_place_after(operations: Iterable[Procedure], on: date) -> str:
    """Say whether hardware was in place on a day after some operations of one shoulder."""
    before = [
        (one.performed_on, one.pk, one.kind)
        for one in operations
        if one.performed_on <= on and one.kind in ABOUT_HARDWARE
    ]
    last = max(before)[2] if before else None
    return "no" if last in (None, ProcedureKind.IMPLANT_REMOVAL) else "yes"
