"""Findings as part of a reading, and a site's rule of union."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from followup.models.films import HardwareOnFilm, Reading
from followup.models.findings import ReadingFinding, UnionRule
from followup.rules import findings as rules
from followup.rules.findings import Found
from followup.selectors.findings import found_in
from registry.errors import BadInput
from registry.models.people import Person
from registry.services import gathering, records, setup

FIELD = "findings"


def settled(given: Sequence[Found] | None, earlier: Reading | None) -> tuple[Found, ...]:
    """Return the findings of a reading about to be saved: those given, else those it supersedes.

    What says nothing about findings, such as a new calibration, loses none. Raises BadInput for a
    finding that cannot be.
    """
    if given is None:
        return () if earlier is None else found_in(earlier)
    faults = rules.faults(given)
    if faults:
        raise BadInput({FIELD: " ".join(f"{kind}: {told}" for kind, told in faults.items())})
    return tuple(given)


def with_hardware(values: Mapping[str, Any], found: Sequence[Found]) -> dict[str, Any]:
    """Return the columns of a reading with the hardware that its findings make of it.

    Where it was not said it follows from them. Raises BadInput where what was said contradicts them.
    """
    summary = rules.summary_of(found)
    said = values.get("hardware")
    if said is None:
        return {**values, "hardware": summary} if summary else dict(values)
    if said in HardwareOnFilm.values:
        against = rules.contradiction(said, found)
        if against:
            raise BadInput({"hardware": against})
    return dict(values)


def keep(
    *, reading: Reading, found: Iterable[Found], by: Person, now: datetime
) -> list[ReadingFinding]:
    """Save what was found as part of a new reading, inside the change that saves it."""
    return [
        records.create(
            ReadingFinding(
                reading=reading,
                site=reading.site,
                kind=one.kind,
                state=one.state,
                grade=one.grade,
                place=one.place,
            ),
            by=by,
            now=now,
        )
        for one in found
    ]


def found_of(reading: Reading) -> tuple[Found, ...]:
    """Return the findings of a reading, of one that was just made without asking for them again."""
    if gathering.is_new(reading):
        return tuple(row.found for row in records.under(ReadingFinding, reading=reading))
    return found_in(reading)


def save_union_rule(
    *, rule: UnionRule, values: Mapping[str, Any], expected_version: int, by: Person
) -> UnionRule:
    """Set a site's rule of union over the version that the user saw; no reading changes by it.

    Raises BadInput for a number that cannot be, StaleVersion when somebody changed it first.
    """
    return setup.save_versioned(rule, values, expected_version=expected_version, by=by)
