"""Reading a file of cases: what would be added, what is known already, what cannot be used and why."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import BinaryIO

from followup.rules import case_rows
from followup.rules.case_columns.catalogue import BY_NAME, COLUMNS
from followup.rules.case_facts import ParsedCase, PersonGiven, RowFault
from registry.errors import BadInput
from registry.exchange import sheets
from registry.exchange.sheets import Row, Sheet
from registry.models.constructs import ConstructType
from registry.models.imports import ImportRow
from registry.models.patients import Patient, PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.selectors.patients import Numbered, numbered
from registry.selectors.people import surgeons_at
from registry.services.enrolment import HOSPITAL_NUMBER

# What is going on, how much of it is done, and how much there is.
Progress = Callable[[str, int, int], None]
ASKED_AT_ONCE = 500
STATUS_COLUMNS = {"died": "died_on", "withdrawn": "withdrew_on", "moved": "moved_on"}


@dataclass(frozen=True)
class How:
    """How a file is read: against which day, with which order of dates, and how much of it at most."""

    today: date
    day_first: bool = False
    most_rows: int | None = None
    progress: Progress | None = None


@dataclass(frozen=True)
class Planned:
    """A row that can be used, and the patient when the site knows the number already."""

    row: Row
    case: ParsedCase
    patient: Patient | None


@dataclass(frozen=True)
class Known:
    """A row that adds nothing, and why."""

    line: int
    fingerprint: str
    why: str


@dataclass(frozen=True)
class Rejected:
    """A row that cannot be used, as it was written, with everything that is wrong with it."""

    row: Row
    faults: tuple[RowFault, ...]

    @property
    def reason(self) -> str:
        """All faults in one line."""
        return "; ".join(
            f"{one.column}: {one.reason}" if one.column else one.reason for one in self.faults
        )


@dataclass
class Plan:
    """What would become of each row. With a fault in the header no row is looked at."""

    sheet: Sheet
    rows_read: int = 0
    header_faults: list[RowFault] = field(default_factory=list)
    good: list[Planned] = field(default_factory=list)
    known: list[Known] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)

    @property
    def has_faults(self) -> bool:
        """Whether anything is wrong with the file."""
        return bool(self.header_faults or self.rejected)


def plan(source: BinaryIO, site: Site, how: How) -> Plan:
    """Read a CSV or XLSX file against what the site has recorded; nothing is written.

    Raises BadInput for what is not a table, has no row, or too many.
    """
    sheet = sheets.read(source)
    if BY_NAME.keys().isdisjoint(name.casefold() for name in sheet.header):
        raise BadInput(
            "The first row names no column of a file of cases. Start from the template file, which "
            f"names them all, from '{COLUMNS[0].name}' on."
        )
    found = Plan(sheet, header_faults=case_rows.check_header(sheet.header))
    if found.header_faults:
        return found
    rows = list(sheet.rows)
    _countable(len(rows), how.most_rows)
    found.rows_read = len(rows)
    cases = []
    for row, read in _parsed(sheet, rows, site, how):
        if isinstance(read, ParsedCase):
            cases.append((row, read))
        else:
            found.rejected.append(Rejected(row, tuple(read)))
    _weigh(found, cases, _Recorded(site, [case for _, case in cases]))
    found.rejected.sort(key=lambda one: one.row.line)
    return found


def _countable(rows: int, most: int | None) -> None:
    if not rows:
        raise BadInput("The file names its columns and holds no row below them.")
    if most is not None and rows > most:
        raise BadInput(
            f"The file has {rows} rows; at most {most} are taken here at once. Split it, or have it "
            "imported by the import_cases command."
        )


def _parsed(
    sheet: Sheet, rows: Sequence[Row], site: Site, how: How
) -> Iterator[tuple[Row, ParsedCase | list[RowFault]]]:
    types = list(ConstructType.objects.filter(is_active=True).values_list("code", flat=True))
    surgeons = list(surgeons_at(site).values_list("username", flat=True))
    for done, row in enumerate(rows, start=1):
        if row.fault:
            yield row, [RowFault(row.line, "", "", f"the row {row.fault}")]
        else:
            yield (
                row,
                case_rows.parse_row(
                    row.line,
                    sheet.values(row),
                    known_construct_types=types,
                    known_surgeons=surgeons,
                    today=how.today,
                    date_order="day_first" if how.day_first else "iso",
                ),
            )
        if how.progress is not None:
            how.progress("Reading", done, len(rows))


def _weigh(found: Plan, cases: Iterable[tuple[Row, ParsedCase]], recorded: "_Recorded") -> None:
    for row, case in cases:
        faults = recorded.faults(case)
        why = "" if faults else recorded.why_known(case)
        if faults:
            found.rejected.append(Rejected(row, tuple(faults)))
            continue
        recorded.add(case)
        if why:
            found.known.append(Known(row.line, case.fingerprint, why))
        else:
            found.good.append(Planned(row, case, recorded.patient_of(case)))


@dataclass
class _Somebody:
    """One patient, from the record or from an earlier line of the file."""

    source: str
    family_name: str
    given_name: str
    birth: dates.Bounds
    status: str = PatientStatus.ACTIVE
    status_on: date | None = None
    last_operation: date | None = None


class _Recorded:
    """What the site knows of the people and operations of a file, and what its earlier lines add."""

    def __init__(self, site: Site, cases: Sequence[ParsedCase]) -> None:
        self._numbers = numbered(site, HOSPITAL_NUMBER, [case.person.local_id for case in cases])
        self._people = {number: _from_record(one) for number, one in self._numbers.items()}
        self._operations = set(_operations(site, self._numbers))
        self._landed = dict(_landed(site, [case.fingerprint for case in cases]))
        self._lines: dict[tuple[str, str, date], ParsedCase] = {}

    def patient_of(self, case: ParsedCase) -> Patient | None:
        """Return the recorded patient with the number of a case."""
        one = self._numbers.get(case.person.local_id)
        return one.patient if one else None

    def why_known(self, case: ParsedCase) -> str:
        """Say why a case adds nothing, '' when it does."""
        if case.fingerprint in self._landed:
            voided = self._landed[case.fingerprint]
            return "imported before, and voided since" if voided else "imported before"
        key = _key(case)
        if key in self._lines:
            return f"the same as line {self._lines[key].line}"
        if key in self._operations:
            return (
                "this operation is recorded already, by hand or from a row that said something "
                "else; changes are made in the record itself"
            )
        return ""

    def faults(self, case: ParsedCase) -> list[RowFault]:
        """Return where a case contradicts the record, or an earlier line of the file."""
        faults = []
        twin = self._lines.get(_key(case))
        if twin is not None and twin.fingerprint != case.fingerprint:
            said = f"line {twin.line} gives this operation too, and says something else; keep one"
            faults.append(RowFault(case.line, "procedure_date", str(_operated(case)), said))
        one = self._people.get(case.person.local_id)
        if one is not None:
            faults += _other_person(case, one) or _other_ending(case, one)
        return faults

    def add(self, case: ParsedCase) -> None:
        """Remember a case for the lines below it."""
        self._lines.setdefault(_key(case), case)
        given = case.person
        here = f"line {case.line}"
        one = self._people.setdefault(
            given.local_id, _Somebody(here, given.family_name, given.given_name, given.birth)
        )
        if case.status != PatientStatus.ACTIVE:
            one.status, one.status_on = case.status, case.status_on
        one.last_operation = max(one.last_operation or date.min, _operated(case))


def _from_record(one: Numbered) -> _Somebody:
    patient = one.patient
    return _Somebody(
        "the record",
        one.family_name,
        one.given_name,
        one.birth,
        status=patient.status,
        status_on=patient.status_on,
    )


def _operated(case: ParsedCase) -> date:
    day: date = case.procedure["performed_on"]
    return day


def _key(case: ParsedCase) -> tuple[str, str, date]:
    return case.person.local_id, case.injury["side"], _operated(case)


def _operations(site: Site, people: dict[str, Numbered]) -> Iterator[tuple[str, str, date]]:
    number_of = {one.patient.pk: number for number, one in people.items()}
    wanted = sorted(number_of)
    for start in range(0, len(wanted), ASKED_AT_ONCE):
        rows = Procedure.objects.filter(
            site=site,
            kind=ProcedureKind.FIXATION,
            injury__patient__in=wanted[start : start + ASKED_AT_ONCE],
        ).values_list("injury__patient_id", "injury__side", "performed_on")
        for patient, side, day in rows:
            yield number_of[patient], side, day


def _landed(site: Site, prints: Sequence[str]) -> Iterator[tuple[str, bool]]:
    for start in range(0, len(prints), ASKED_AT_ONCE):
        rows = (
            ImportRow.objects.filter(
                batch__site=site,
                procedure__isnull=False,
                fingerprint__in=prints[start : start + ASKED_AT_ONCE],
            )
            .order_by("id")
            .values_list("fingerprint", "procedure__voided_at")
        )
        for fingerprint, voided_at in rows:
            yield fingerprint, voided_at is not None


def _other_person(case: ParsedCase, one: _Somebody) -> list[RowFault]:
    """Tell people apart without saying what the record holds: the importer may not see names."""
    given: PersonGiven = case.person
    apart = given.birth.latest < one.birth.earliest or one.birth.latest < given.birth.earliest
    if apart:
        said = f"{one.source} gives this number another birth date; one number is one patient"
        return [RowFault(case.line, "birth_date", dates.written(given.birth), said)]
    names = {matching.plain(given.family_name), matching.plain(given.given_name)}
    if names.isdisjoint({matching.plain(one.family_name), matching.plain(one.given_name)}):
        said = f"{one.source} gives this number another name; one number is one patient"
        return [RowFault(case.line, "family_name", given.family_name, said)]
    return []


def _other_ending(case: ParsedCase, one: _Somebody) -> list[RowFault]:
    operated, ended = _operated(case), PatientStatus.ACTIVE
    if one.status == PatientStatus.DIED and one.status_on and operated > one.status_on:
        said = f"{operated} is after the death ({one.status_on}, {one.source})"
        return [RowFault(case.line, "procedure_date", str(operated), said)]
    if case.status == ended:
        return []
    column, on = STATUS_COLUMNS[case.status], case.status_on or date.max
    if one.status != ended and (one.status, one.status_on) != (case.status, case.status_on):
        before = PatientStatus(one.status).label.lower()
        said = f"{one.source} says: {before} on {one.status_on}; keep one"
        return [RowFault(case.line, column, str(on), said)]
    last = one.last_operation
    if case.status == PatientStatus.DIED and last is not None and last > on:
        said = f"{on} is before this patient's operation of {last} in an earlier line"
        return [RowFault(case.line, column, str(on), said)]
    return []
