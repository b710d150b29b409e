"""A correction is a new row, to which the earlier one points; only one row is current at any moment."""

from datetime import datetime
from typing import Any

from registry.models.base import ClinicalRow
from registry.models.people import Person
from registry.services import records


def supersede(
    earlier: ClinicalRow, row: ClinicalRow, *, seen: int, by: Person, now: datetime
) -> None:
    """Save a new row in the place of an earlier one, inside a change of the caller's.

    `seen` is the version of the earlier row that the user saw. Raises StaleVersion when it stands
    at another.
    """
    # The earlier row steps aside before the new one exists. Until then it points at the first of
    # its line, at which no other points, so that both constraints of uniqueness hold throughout.
    aside = {"superseded_by": _first_of_line(earlier)}
    records.save(earlier, aside, by=by, now=now, expected_version=seen)
    records.create(row, by=by, now=now)
    there = {"superseded_by": row}
    records.save(earlier, there, by=by, now=now, expected_version=earlier.version)


def _first_of_line(row: Any) -> Any:
    every = type(row).everything
    while (before := every.filter(superseded_by=row).exclude(pk=row.pk).first()) is not None:
        row = before
    return row
