"""Reading a file of cases: what would be added, what is known already, what cannot be used and why."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import BinaryIO

from followup.rules import case_rows, case_translation
from followup.rules.case_columns.catalogue import BY_NAME, COLUMNS
from followup.rules.case_facts import ParsedCase, RowFault
from followup.rules.case_translation import Translation
from followup.services.import_recorded import NO_ANSWERS, Answers, Likeness, Recorded, Who
from registry.errors import BadInput
from registry.exchange import sheets
from registry.exchange.sheet_text import Written
from registry.exchange.sheets import Row, Sheet
from registry.models.constructs import ConstructType
from registry.models.sites import Site
from registry.rules import matching
from registry.rules.date_styles import DAY_FIRST, DateStyle
from registry.selectors.people import surgeons_at

# What is going on, how much of it is done, and how much there is.
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class How:
    """How a file is read: against which day, at most how much of it, and what its columns mean.

    Without a `translation` it has our own columns, where `day_first` says how days may be written.
    """

    today: date
    day_first: bool = False
    most_rows: int | None = None
    progress: Progress | None = None
    written: Written = sheets.FIND_OUT
    translation: Translation | None = None
    answers: Answers = field(default_factory=lambda: NO_ANSWERS)


@dataclass(frozen=True)
class Planned:
    """A row that can be used, and whose it is."""

    row: Row
    case: ParsedCase
    who: Who


@dataclass(frozen=True)
class Known:
    """A row that adds nothing, and why."""

    line: int
    fingerprint: str
    why: str


@dataclass(frozen=True)
class Rejected:
    """A row that cannot be used, as it was written, with everything that is wrong with it.

    `asks` are the likenesses about which only a person can decide; then it can be used later.
    """

    row: Row
    faults: tuple[RowFault, ...]
    fingerprint: str = ""
    asks: tuple[Likeness, ...] = ()

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


class RowReader:
    """Reads the rows of one file, by what was settled about its columns."""

    def __init__(self, sheet: Sheet, site: Site, today: date, translation: Translation) -> None:
        """Ask once for the codes that the site knows."""
        self._sheet, self._today, self.translation = sheet, today, translation
        self._types = list(
            ConstructType.objects.filter(is_active=True).values_list("code", flat=True)
        )
        self._surgeons = list(surgeons_at(site).values_list("username", flat=True))

    def parse(self, row: Row) -> ParsedCase | list[RowFault]:
        """Read one row; its faults name our fields."""
        if row.fault:
            return [RowFault(row.line, "", "", f"the row {row.fault}")]
        written, wrong = case_translation.translate(
            row.line, self._sheet.values(row), self.translation
        )
        read = case_rows.parse_row(
            row.line,
            written,
            known_construct_types=self._types,
            known_surgeons=self._surgeons,
            today=self._today,
        )
        if not wrong:
            return read
        told = {fault.column for fault in wrong}
        others = [] if isinstance(read, ParsedCase) else read
        return [*wrong, *(fault for fault in others if fault.column not in told)]

    def fingerprint(self, row: Row) -> str:
        """Return the fingerprint of a row that could not be used."""
        written, _ = case_translation.translate(row.line, self._sheet.values(row), self.translation)
        return case_rows.fingerprint(written)

    def rejected(
        self, row: Row, faults: Iterable[RowFault], asks: tuple[Likeness, ...] = ()
    ) -> Rejected:
        """Return a row with its faults in the words of the file."""
        told = case_translation.in_the_files_words(
            list(faults), self._sheet.values(row), self.translation
        )
        return Rejected(row, tuple(told), self.fingerprint(row), asks)


def plan(source: BinaryIO, site: Site, how: How) -> Plan:
    """Read a CSV or XLSX file against what the site has recorded; nothing is written.

    Raises BadInput for what is not a table, has no row, or too many.
    """
    sheet = sheets.read(source, how.written)
    found = Plan(sheet, header_faults=header_faults(sheet, how))
    if found.header_faults:
        return found
    rows = list(sheet.rows)
    _countable(len(rows), how.most_rows)
    found.rows_read = len(rows)
    reader = RowReader(sheet, site, how.today, translation_of(sheet, how))
    recorded = Recorded(site, answers=how.answers)
    weigh(found, rows, reader, recorded, _told(how.progress, len(rows)))
    return found


def translation_of(sheet: Sheet, how: How) -> Translation:
    """Return what was settled about a file; our own columns stand for themselves."""
    if how.translation is not None:
        return how.translation
    return case_translation.own(sheet.header, DateStyle(order=DAY_FIRST if how.day_first else ""))


def header_faults(sheet: Sheet, how: How) -> list[RowFault]:
    """Return what is wrong with the names of a file's columns.

    Raises BadInput where none of them is one of ours, and nothing was settled.
    """
    if how.translation is None:
        if BY_NAME.keys().isdisjoint(name.casefold() for name in sheet.header):
            raise BadInput(
                "The first row names no column of a file of cases. Start from the template file, "
                f"which names them all, from '{COLUMNS[0].name}' on, or say what its columns mean."
            )
        return case_rows.check_header(sheet.header)
    settled = {use.header.casefold() for use in how.translation.uses}
    in_file = {name.casefold() for name in sheet.header}
    return [
        *(
            RowFault(1, name, "", "nothing was settled about this column; use it or leave it out")
            for name in sheet.header
            if name.casefold() not in settled and name.casefold() != sheets.REASON
        ),
        *(
            RowFault(1, use.header, "", "this column is not in the file")
            for use in how.translation.used()
            if use.header.casefold() not in in_file
        ),
        *(RowFault(1, "", "", said) for said in case_translation.faults(how.translation)),
    ]


def weigh(
    found: Plan,
    rows: Sequence[Row],
    reader: RowReader,
    recorded: Recorded,
    told: Callable[[], None] = lambda: None,
) -> None:
    """Say what would become of some rows, in their order, and add them to a plan."""
    cases = []
    for row in rows:
        read = reader.parse(row)
        if isinstance(read, ParsedCase):
            cases.append((row, read))
        else:
            found.rejected.append(reader.rejected(row, read))
        told()
    recorded.load([case for _, case in cases])
    for row, case in cases:
        _weigh_one(found, row, case, reader, recorded)
    found.rejected.sort(key=lambda one: one.row.line)


def _weigh_one(
    found: Plan, row: Row, case: ParsedCase, reader: RowReader, recorded: Recorded
) -> None:
    faults = recorded.faults(case)
    why = "" if faults else recorded.why_known(case)
    if faults:
        found.rejected.append(reader.rejected(row, faults))
        return
    if why:
        recorded.add(case)
        found.known.append(Known(row.line, case.fingerprint, why))
        return
    who = recorded.who(case)
    if who.asks:
        found.rejected.append(reader.rejected(row, [doubt(case, who)], who.asks))
        return
    recorded.add(case)
    found.good.append(Planned(row, case, who))


def doubt(case: ParsedCase, who: Who) -> RowFault:
    """Say who may be the same person, without what the record holds of them."""
    one = who.asks[0]
    other = f"the person of line {one.other_line}" if one.other_line else "a patient of the record"
    said = (
        f"may be {other} under another number ({one.because}; score {one.weight:.1f}, asked about "
        f"from {matching.REVIEW:g}, the same from {matching.SAME:g}): a person has to decide"
    )
    return RowFault(case.line, "", "", said)


def _told(progress: Progress | None, total: int) -> Callable[[], None]:
    done = 0

    def told() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress("Reading", done, total)

    return told


def _countable(rows: int, most: int | None) -> None:
    if not rows:
        raise BadInput("The file names its columns and holds no row below them.")
    if most is not None and rows > most:
        raise BadInput(
            f"The file has {rows} rows; at most {most} are taken here at once. Split it, or have it "
            "imported by the import_cases command."
        )
