"""One row of a file of cases -> one case ready to be saved, or everything that is wrong with it."""

import hashlib
import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from typing import Any

from followup.rules import case_cells, case_order
from followup.rules.case_columns.catalogue import BY_GROUP, BY_NAME, COLUMNS
from followup.rules.case_columns.followed import COMPLICATION_NUMBERS, TIMEPOINTS
from followup.rules.case_facts import LaterOperation, ParsedCase, PersonGiven, RowFault, Visit
from registry.rules import dates, plausibility

DATE_ORDERS = ("iso", "day_first")
REASON_COLUMN = "reason"
CALIBRATED = ("marker", "detector")
LENGTHS = ("ccd_injured_mm", "ccd_other_mm")
OTHER_SIDE = ("ccd_other_mm", "ccd_side_ratio_pct")
READ_ON_FILM = (*LENGTHS, "ccd_side_ratio_pct", "union", "hardware")
MOTION = ("flexion_deg", "abduction_deg", "external_rotation_deg")
SCORES = ("pain_nrs", "quickdash", "constant")
STATUSES = ("died", "withdrawn", "moved")
SAYS_NOTHING = ("unknown", "not_applicable")
REVISION, REMOVAL = "revision_fixation", "implant_removal"


@dataclass
class _Row:
    """A row while it is read: values, kinds of missing, doubts and faults by column name."""

    line: int
    written: Mapping[str, str]
    values: dict[str, Any] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    doubts: dict[str, str] = field(default_factory=dict)
    faults: list[RowFault] = field(default_factory=list)

    def fault(self, column: str, reason: str) -> None:
        """Note a fault of a column."""
        self.faults.append(RowFault(self.line, column, self.written.get(column, ""), reason))

    def is_at_fault(self, column: str) -> bool:
        """Say whether a column has a fault already."""
        return any(fault.column == column for fault in self.faults)

    def of(self, group: str) -> dict[str, Any]:
        """Return the values of a group by field, with its kinds of missing and its doubts."""
        columns = BY_GROUP[group]
        values = {c.field: self.values[c.name] for c in columns if c.name in self.values}
        missing = {c.field: self.missing[c.name] for c in columns if c.name in self.missing}
        flags = [
            {"field": c.field, "message": self.doubts[c.name]}
            for c in columns
            if c.name in self.doubts
        ]
        return {**values, "missing": missing, "flags": flags}


def check_header(names: Sequence[str]) -> list[RowFault]:
    """Return a fault for each column that is not known, and for each required one that lacks.

    A column named 'reason', as a file of rejected rows has it, is passed over.
    """
    given = [name.strip().casefold() for name in names]
    faults = []
    for name in given:
        if name not in BY_NAME and name != REASON_COLUMN:
            near = get_close_matches(name, BY_NAME, 1)
            hint = f"did you mean '{near[0]}'?" if near else "see the list of columns"
            faults.append(RowFault(1, name, "", f"there is no such column; {hint}"))
    faults += [
        RowFault(1, column.name, "", "this column is required and is not in the file")
        for column in COLUMNS
        if column.required and column.name not in given
    ]
    return faults


def fingerprint(written: Mapping[str, str]) -> str:
    """Return the SHA-256 of what a row says in the known columns, in hexadecimal."""
    said = {
        name: " ".join(cell.split())
        for name, cell in written.items()
        if name in BY_NAME and cell.strip()
    }
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def parse_row(
    line: int,
    written: Mapping[str, str],
    *,
    known_construct_types: Collection[str],
    known_surgeons: Collection[str],
    today: date,
    date_order: str = "iso",
) -> ParsedCase | list[RowFault]:
    """Read one row, given by lower-case column names; all its faults are returned together.

    Year-month-day is always understood; 'day_first' also takes 05.03.2024 and 05/03/2024. Raises
    ValueError for another order.
    """
    if date_order not in DATE_ORDERS:
        raise ValueError(f"'{date_order}' is not an order of dates; use one of {DATE_ORDERS}")
    types = known_construct_types
    how = case_cells.Reading(
        day_first=date_order == "day_first",
        listed={
            "construct_type": types,
            "revision_construct_type": types,
            "surgeon": known_surgeons,
        },
    )
    row = _Row(line, written)
    _read_cells(row, how)
    _check_needs(row)
    for column, reason in case_order.faults(row.values, today):
        row.fault(column, reason)
    _check_status(row)
    for prefix in ("baseline", *(f"f{timepoint}" for timepoint in TIMEPOINTS)):
        _check_film(row, prefix)
    _check_age_and_wait(row)
    return row.faults or _case(row)


def _read_cells(row: _Row, how: case_cells.Reading) -> None:
    for column in COLUMNS:
        cell = case_cells.read(column, row.written.get(column.name, ""), how)
        if cell.fault:
            row.fault(column.name, cell.fault)
        elif cell.missing:
            row.missing[column.name] = cell.missing
        elif cell.value is not None:
            row.values[column.name] = cell.value
        if cell.doubt:
            row.doubts[column.name] = cell.doubt


def _check_needs(row: _Row) -> None:
    for column in COLUMNS:
        wanted = column.needs
        told = row.values.get(column.name) not in (None, *SAYS_NOTHING)
        if wanted and told and wanted not in row.values and not row.is_at_fault(wanted):
            row.fault(wanted, f"must be given, because {column.name} is")


def _check_status(row: _Row) -> None:
    given = [name for name in ("died_on", "withdrew_on", "moved_on") if name in row.values]
    for name in given[1:]:
        row.fault(name, f"{given[0]} is given too; keep the one that ended follow-up")


def _check_film(row: _Row, prefix: str) -> None:
    found = row.of(prefix)
    if not _has_film(prefix, found):
        return
    if "view" not in found and "film_view" not in row.values:
        row.fault(f"{prefix}_view", "say the view of this film, here or in film_view")
    lengths = [name for name in LENGTHS if name in found]
    if lengths and row.values.get("film_calibration") not in CALIBRATED:
        row.fault(
            f"{prefix}_{lengths[0]}",
            "a length in mm counts only on a calibrated film: give film_calibration as marker or "
            "detector, or give the ratio instead",
        )
    if len(lengths) == len(LENGTHS) and "ccd_side_ratio_pct" in found:
        row.fault(f"{prefix}_ccd_ratio_pct", "both lengths are given; leave the ratio out")


def _has_film(prefix: str, found: Mapping[str, Any]) -> bool:
    read = any(name in found for name in ("view", *READ_ON_FILM))
    return read or (prefix == "baseline" and "visited_on" in found)


def _check_age_and_wait(row: _Row) -> None:
    born, hurt = row.values.get("birth_date"), row.values.get("injury_date")
    operated = row.values.get("procedure_date")
    facts: dict[str, tuple[str, int]] = {}
    if born and hurt and hurt.latest >= born.earliest:
        facts["age_years"] = ("birth_date", dates.age_on(born, hurt.latest))
    if hurt and operated and operated >= hurt.earliest:
        facts["days_from_injury"] = ("procedure_date", max(0, (operated - hurt.latest).days))
    for finding in plausibility.judge({name: value for name, (_, value) in facts.items()}):
        column = facts[finding.field][0]
        if finding.impossible:
            row.fault(column, f"{finding.field.replace('_', ' ')}: {finding.message}")
        else:
            row.doubts[column] = finding.message


def _case(row: _Row) -> ParsedCase:
    injury, procedure = row.of("injury"), row.of("procedure")
    injured = injury.pop("injured")
    injury |= {"injured_earliest": injured.earliest, "injured_latest": injured.latest}
    injury["flags"] += row.of("person")["flags"]
    construct = row.of("construct")
    ended = [name for name in STATUSES if name in row.of("status")]
    return ParsedCase(
        line=row.line,
        fingerprint=fingerprint(row.written),
        person=_person(row),
        injury=injury,
        classes={c.field: row.values[c.name] for c in BY_GROUP["class"] if c.name in row.values},
        surgeon=procedure.pop("surgeon", None),
        procedure=procedure,
        construct_type=construct.pop("construct_type"),
        construct=construct,
        departure_reason=row.values.get("departure_reason", ""),
        visits=tuple(_visits(row)),
        complications=tuple(_complications(row)),
        later=tuple(_later(row)),
        status=ended[0] if ended else "active",
        status_on=row.of("status")[ended[0]] if ended else None,
    )


def _person(row: _Row) -> PersonGiven:
    found = row.of("person")
    return PersonGiven(
        local_id=found["local_id"],
        family_name=found["family_name"],
        given_name=found["given_name"],
        birth=found["birth"],
        sex=found.get("sex", "unknown"),
        phone=found.get("phone", ""),
    )


def _visits(row: _Row) -> list[Visit]:
    names = {"baseline": "baseline", **{f"f{timepoint}": timepoint for timepoint in TIMEPOINTS}}
    return [
        _visit(row, prefix, timepoint)
        for prefix, timepoint in names.items()
        if "visited_on" in row.of(prefix)
    ]


def _visit(row: _Row, prefix: str, timepoint: str) -> Visit:
    found = row.of(prefix)
    motion = _part(found, MOTION)
    if motion:
        motion |= {"side": row.values["side"], "mode": "active"}
    return Visit(
        timepoint=timepoint,
        visited_on=found["visited_on"],
        film=_film(row, found) if _has_film(prefix, found) else None,
        reading=_part(found, READ_ON_FILM),
        motion=motion,
        score_totals={name: found[name] for name in SCORES if name in found},
        not_obtainable={
            f"score:{name}": kind.replace("_", " ")
            for name, kind in found["missing"].items()
            if name in SCORES
        },
    )


def _part(found: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
    """Return some fields with what is missing or doubtful of them; empty when none has a value."""
    values = {name: found[name] for name in names if name in found}
    if not values:
        return {}
    missing = {name: kind for name, kind in found["missing"].items() if name in names}
    flags = [flag for flag in found["flags"] if flag["field"] in names]
    return {**values, "missing": missing, "flags": flags}


def _film(row: _Row, found: Mapping[str, Any]) -> dict[str, Any]:
    film = row.of("film")
    film["missing"].pop("view", None)
    film["view"] = found.get("view", film.get("view"))
    film["taken_on"] = found["visited_on"]
    film["shows_both_sides"] = any(name in found for name in OTHER_SIDE)
    return film


def _complications(row: _Row) -> list[dict[str, Any]]:
    found = [row.of(f"complication_{number}") for number in COMPLICATION_NUMBERS]
    return [event for event in found if "kind" in event]


def _later(row: _Row) -> list[LaterOperation]:
    operations = []
    revision, removal = row.of("revision"), row.of("removal")
    if "performed_on" in revision:
        operations.append(
            LaterOperation(REVISION, revision["performed_on"], revision.get("construct_type"))
        )
    if "performed_on" in removal:
        planned = {"yes": True, "no": False}.get(removal.get("planned", ""))
        operations.append(LaterOperation(REMOVAL, removal["performed_on"], planned=planned))
    return sorted(operations, key=lambda operation: operation.performed_on)
