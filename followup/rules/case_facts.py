"""What a row of a file of cases becomes: one case, or the faults that stand in its way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from registry.rules.dates import Bounds


@dataclass(frozen=True)
class RowFault:
    """One thing that is wrong with a row; line 1 is the header."""

    line: int
    column: str
    value: str
    reason: str

    def __str__(self) -> str:
        """Write the fault in one line."""
        given = f" '{self.value[:60]}'" if self.value else ""
        return f"line {self.line}, {self.column}{given}: {self.reason}"


@dataclass(frozen=True)
class PersonGiven:
    """Who the patient is."""

    local_id: str
    family_name: str
    given_name: str
    birth: Bounds
    sex: str
    phone: str


@dataclass(frozen=True)
class Visit:
    """One visit: its film (None when there was none) with what was read, motion and totals.

    The mappings hold values by the field names of the rows that they become.
    """

    timepoint: str
    visited_on: date
    film: Mapping[str, Any] | None
    reading: Mapping[str, Any]
    motion: Mapping[str, Any]
    score_totals: Mapping[str, float]
    not_obtainable: Mapping[str, str]


@dataclass(frozen=True)
class LaterOperation:
    """A revision or a removal; `planned` is None where the construct type decides."""

    kind: str
    performed_on: date
    construct_type: str | None = None
    planned: bool | None = None


@dataclass(frozen=True)
class ParsedCase:
    """One index procedure with all that its row tells, by the field names of the rows to save.

    `fingerprint` is the same for rows that say the same, whatever the order of their columns.
    """

    line: int
    fingerprint: str
    person: PersonGiven
    injury: Mapping[str, Any]
    classes: Mapping[str, str]
    procedure: Mapping[str, Any]
    surgeon: str | None
    construct_type: str
    construct: Mapping[str, Any]
    departure_reason: str
    visits: Sequence[Visit]
    complications: Sequence[Mapping[str, Any]]
    later: Sequence[LaterOperation]
    status: str
    status_on: date | None
