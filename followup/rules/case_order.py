"""The order in which the dates of one case can follow each other."""

from collections.abc import Iterator, Mapping
from datetime import date
from itertools import pairwise
from typing import Any

from followup.rules.case_columns.catalogue import COLUMNS
from followup.rules.case_columns.column import Kind
from followup.rules.case_columns.followed import TIMEPOINTS
from registry.rules.dates import Bounds, written

DATED = tuple(c.name for c in COLUMNS if c.kind in (Kind.DAY, Kind.PARTIAL_DAY))
VISITS = ("baseline_film_date", *(f"f{timepoint}_date" for timepoint in TIMEPOINTS))
START = ("birth_date", "injury_date", "procedure_date")
DEATH = "died_on"


def faults(values: Mapping[str, Any], today: date) -> list[tuple[str, str]]:
    """Return (column, reason) for every date that cannot be where it stands.

    Nothing lies in the future, nothing clinical before the operation or after death; the operation
    follows the injury and the injury the birth; each visit is later than the one before it.
    """
    known = {name: _bounds(values[name]) for name in DATED if name in values}
    return [
        *_future(known, today),
        *_start(known),
        *_after_operation(known),
        *_visits(known),
        *_after_death(known),
    ]


def _bounds(value: Bounds | date) -> Bounds:
    return Bounds(value, value) if isinstance(value, date) else value


def _future(known: Mapping[str, Bounds], today: date) -> Iterator[tuple[str, str]]:
    for name, day in known.items():
        if day.earliest > today:
            yield name, f"{written(day)} is in the future (today is {today})"


def _start(known: Mapping[str, Bounds]) -> Iterator[tuple[str, str]]:
    given = [name for name in START if name in known]
    for place, later in enumerate(given):
        for earlier in reversed(given[:place]):
            if known[later].latest < known[earlier].earliest:
                yield later, _before(known, later, earlier)
                break


def _after_operation(known: Mapping[str, Bounds]) -> Iterator[tuple[str, str]]:
    if "procedure_date" not in known:
        return
    for name, day in known.items():
        if name not in START and day.latest < known["procedure_date"].earliest:
            yield name, _before(known, name, "procedure_date")


def _visits(known: Mapping[str, Bounds]) -> Iterator[tuple[str, str]]:
    given = [name for name in VISITS if name in known]
    for earlier, later in pairwise(given):
        if known[later].earliest == known[earlier].earliest:
            yield later, f"is the same day as {earlier}; write what was found that day in one place"
        elif known[later].earliest < known[earlier].earliest:
            yield later, _before(known, later, earlier)


def _after_death(known: Mapping[str, Bounds]) -> Iterator[tuple[str, str]]:
    if DEATH not in known:
        return
    for name, day in known.items():
        if name not in START and day.earliest > known[DEATH].latest:
            yield name, f"{written(day)} is after {DEATH} ({written(known[DEATH])})"


def _before(known: Mapping[str, Bounds], later: str, earlier: str) -> str:
    return f"{written(known[later])} is before {earlier} ({written(known[earlier])}); correct one of the two"
