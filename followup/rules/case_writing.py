"""One case as a row of our own columns: the other way round from reading it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from followup.rules.case_columns.catalogue import BY_GROUP
from followup.rules.case_columns.followed import TIMEPOINTS
from registry.rules import dates, missing
from registry.rules.dates import Bounds

BASELINE = "baseline"
# About which day after the operation a visit of each name lies.
NOMINAL = {BASELINE: 5, "6w": 42, "3m": 91, "6m": 183, "12m": 365, "24m": 731}
PLACES = (BASELINE, *TIMEPOINTS)
LENGTHS = ("ccd_injured_mm", "ccd_other_mm")
OF_ALL_FILMS = ("posture", "weighted", "calibration")


@dataclass
class DayFound:
    """What was found on one day, by the fields of its rows; `named` is the visit that it was."""

    on: date
    named: str = ""
    film: Mapping[str, Any] | None = None
    reading: dict[str, Any] = field(default_factory=dict)
    motion: dict[str, Any] = field(default_factory=dict)
    scores: dict[str, Any] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class WrittenCase:
    """A row by the names of our columns, and what of the case has no place in them, in words."""

    cells: Mapping[str, str]
    left: tuple[str, ...]


def group_cells(
    group: str, values: Mapping[str, Any], lacking: Mapping[str, str]
) -> dict[str, str]:
    """Return the cells of one group of columns, from values and kinds of missing by field."""
    return {
        column.name: text(values.get(column.field), lacking.get(column.field, ""))
        for column in BY_GROUP[group]
    }


def text(value: Any, kind: str = "") -> str:
    """Write one value as our columns hold it; nothing where it is not recorded."""
    if isinstance(value, Bounds):
        return dates.written(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if value not in (None, ""):
        return str(value)
    return missing.KINDS.get(kind, "")


def place(operated: date, days: Sequence[DayFound]) -> tuple[dict[str, DayFound], list[DayFound]]:
    """Give each day the visit that it was, or the nearest one free; return what found no place.

    Visits follow each other as their days do.
    """
    fixed = {one.named: one.on for one in days if one.named in PLACES}
    found: dict[str, DayFound] = {}
    left = []
    last = -1
    for one in sorted(days, key=lambda day: day.on):
        free = [
            number
            for number, name in enumerate(PLACES)
            if number > last
            and (name == one.named if one.named in PLACES else _open(name, number, one.on, fixed))
            and (name != BASELINE or _film_alone(one))
        ]
        if not free:
            left.append(one)
            continue
        after = (one.on - operated).days
        last = min(free, key=lambda number: abs(NOMINAL[PLACES[number]] - after))
        found[PLACES[last]] = one
    return found, left


def _open(name: str, number: int, on: date, fixed: Mapping[str, date]) -> bool:
    """Whether a place is free for a day: no named visit has it, or lies between wrongly."""
    return name not in fixed and all(
        (PLACES.index(other) < number) == (day < on) for other, day in fixed.items()
    )


def _film_alone(one: DayFound) -> bool:
    return one.film is not None and not one.motion and not one.scores


def day_cells(name: str, one: DayFound, *, view: bool) -> dict[str, str]:
    """Return the cells of one visit, with the view of its film where not all films share it."""
    group = BASELINE if name == BASELINE else f"f{name}"
    reading = dict(one.reading)
    if all(reading.get(length) is not None for length in LENGTHS):
        reading.pop("ccd_side_ratio_pct", None)
    seen = {"view": one.film["view"]} if one.film and view else {}
    values = {"visited_on": one.on, **seen, **reading, **one.motion, **one.scores}
    return group_cells(group, values, one.missing)


def film_cells(days: Sequence[DayFound]) -> tuple[dict[str, str], bool]:
    """Return what holds for all films of a case, the view where they share it; and whether it does.

    A visit without a reading is seen to have a film by the view of its own.
    """
    films = [one.film for one in days if one.film is not None]
    if not films:
        return {}, True
    first = {name: films[0][name] for name in OF_ALL_FILMS}
    same = all({name: film[name] for name in OF_ALL_FILMS} == first for film in films)
    view = {"view": films[0]["view"]} if share_view(days) else {}
    return group_cells("film", first | view, {}), same


def share_view(days: Sequence[DayFound]) -> bool:
    """Whether all films of a case have one view, and each visit with a film is known by its reading."""
    films = [one for one in days if one.film is not None]
    views = {one.film["view"] for one in films if one.film is not None}
    return len(views) == 1 and all(any(one.reading.values()) for one in films)
