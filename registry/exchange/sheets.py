"""CSV and XLSX files <-> numbered rows of text, without losing a row, a letter or a leading zero."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import Any, BinaryIO, TextIO

import openpyxl

from registry.errors import BadInput
from registry.exchange import sheet_books, sheet_heads, sheet_text
from registry.exchange.sheet_books import Book
from registry.exchange.sheet_text import WHAT_TO_GIVE, Found, Written
from registry.rules.encodings import Preview

REASON = "reason"
ZIP_MARK, OLD_EXCEL_MARK = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
FIND_OUT = Written()

# A spreadsheet program may run a cell that begins with one of these; digits alone run nothing.
STARTS_A_FORMULA = re.compile(r"'*[=@\t\r]|'*[+-](?![\d\s.,()/-]*$)")


@dataclass(frozen=True)
class Row:
    """One row as written: the line (or spreadsheet row) on which it starts, and its cells.

    `fault` says why the row as a whole cannot be trusted, and is empty when it can.
    """

    line: int
    cells: tuple[str, ...]
    fault: str = ""


@dataclass(frozen=True)
class Sheet:
    """A table that is read row by row; `notes` are what its owner should be told about it.

    `written_as` is how a text file was read; `counts_from` the year from which a workbook counts days.
    """

    header: tuple[str, ...]
    rows: Iterator[Row]
    notes: tuple[str, ...] = ()
    written_as: Found | None = None
    counts_from: str = ""

    def values(self, row: Row) -> dict[str, str]:
        """Return a row's cells by the lower-case names of their columns."""
        names = (name.casefold() for name in self.header)
        cells = chain(row.cells, ("" for _ in self.header))
        return dict(zip(names, cells, strict=False))


class AmbiguousText(BadInput):
    """The accented letters of a file can be read in several ways; a person has to pick one."""

    def __init__(self, previews: Sequence[Preview]) -> None:
        """Keep how each encoding would read them."""
        self.previews = tuple(previews)
        ways = "; ".join(f"{one.name}: {', '.join(one.words[:3])}" for one in previews[:4])
        super().__init__(
            f"The accented letters of this file can be read in several ways ({ways}). "
            "Say which of them is right."
        )


def read(source: BinaryIO, written: Written = FIND_OUT) -> Sheet:
    """Open a CSV or XLSX file, told apart by its content; rows come one at a time.

    The source must be seekable and stay open while rows are read. Raises BadInput, at once or at the
    row concerned, for what is not a table with a header; AmbiguousText where only a person can say
    how accented letters were meant.
    """
    source.seek(0)
    start = source.read(8)
    if not start:
        raise BadInput(f"The file is empty. {WHAT_TO_GIVE}")
    if start.startswith(OLD_EXCEL_MARK):
        raise BadInput(
            "This is an old .xls workbook, or one with a password. "
            "Save it as .xlsx without a password, or as CSV, and try again."
        )
    return _read_xlsx(source) if start.startswith(ZIP_MARK) else _read_csv(source, written)


def write_rows(target: TextIO, header: Sequence[str], rows: Iterable[Sequence[object]]) -> int:
    """Write a CSV table in which no cell can run as a formula; return the number of rows."""
    writer = csv.writer(target)
    writer.writerow([guarded(name) for name in header])
    count = 0
    for row in rows:
        writer.writerow([guarded("" if cell is None else str(cell)) for cell in row])
        count += 1
    return count


def csv_lines(header: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """Yield a CSV table line by line, for a table that is never held as a whole."""
    buffer = io.StringIO()
    for row in chain([header], rows):
        csv.writer(buffer).writerow([guarded("" if cell is None else str(cell)) for cell in row])
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()


def write_workbook(
    target: Any, title: str, header: Sequence[str], rows: Iterable[Sequence[object]]
) -> None:
    """Write an XLSX workbook of one sheet in which no cell can run as a formula.

    Numbers and days stay what they are; everything else is text.
    """
    book = openpyxl.Workbook(write_only=True)
    page = book.create_sheet(title)
    for row in chain([header], rows):
        page.append([_kept(cell) for cell in row])
    book.save(target)


def _kept(cell: object) -> object:
    if cell is None or (isinstance(cell, int | float | date) and not isinstance(cell, bool)):
        return cell
    return guarded(str(cell))


def write_rejected(
    target: TextIO, header: Sequence[str], rejected: Iterable[tuple[Row, str]]
) -> int:
    """Write rows out as they came, each with its reason in a last column; return how many.

    The file can be corrected and read again: a reason column that was there already is replaced.
    """
    count = -1
    for line in rejected_lines(header, rejected):
        target.write(line)
        count += 1
    return count


def rejected_lines(header: Sequence[str], rejected: Iterable[tuple[Row, str]]) -> Iterator[str]:
    """Yield what `write_rejected` writes, line by line."""
    kept = [i for i, name in enumerate(header) if name.casefold() != REASON]
    names = [header[i] for i in kept]

    def cells(row: Row, reason: str) -> list[str]:
        own = [row.cells[i] if i < len(row.cells) else "" for i in kept]
        return [*own, reason, *row.cells[len(header) :]]

    return csv_lines([*names, REASON], (cells(row, why) for row, why in rejected))


def guarded(cell: str) -> str:
    """Put an apostrophe before a cell that a spreadsheet program could run; `read` takes it off."""
    return f"'{cell}" if STARTS_A_FORMULA.match(cell) else cell


def _unguarded(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and STARTS_A_FORMULA.match(cell) else cell


def _read_csv(source: BinaryIO, written: Written) -> Sheet:
    found = sheet_text.look(source, written)
    if not found.sure:
        raise AmbiguousText(found.previews)
    records = sheet_text.records(source, found)
    head = sheet_heads.find(records, nothing=WHAT_TO_GIVE)
    notes = (found.note, *head.notes) if found.note else head.notes
    rows = _csv_rows(head.rest, len(head.names))
    return Sheet(head.names, rows, notes, written_as=found)


def _csv_rows(records: Iterator[tuple[int, Sequence[str]]], width: int) -> Iterator[Row]:
    for line, record in records:
        if any(cell.strip() for cell in record):
            cells = tuple(_unguarded(cell) for cell in record)
            yield Row(line, cells, _ragged(cells, width, short=True))


def _ragged(cells: Sequence[str], width: int, *, short: bool) -> str:
    if any(cell.strip() for cell in cells[width:]):
        return f"has {len(cells)} values where the header names {width}"
    if short and len(cells) < width:
        return f"has only {len(cells)} values where the header names {width}; is it cut off?"
    return ""


def _read_xlsx(source: BinaryIO) -> Sheet:
    book = sheet_books.open_book(source)
    faults: dict[int, str] = {}
    head = sheet_heads.find(_lines_of(book, faults), book.merges, nothing=WHAT_TO_GIVE)
    notes = (*book.notes, *head.notes)
    rows = _fitted(head.rest, faults, len(head.names))
    return Sheet(head.names, rows, notes, counts_from=book.counts_from)


def _lines_of(book: Book, faults: dict[int, str]) -> Iterator[tuple[int, Sequence[str]]]:
    for line, cells, fault in book.rows:
        if fault:
            faults[line] = fault
        yield line, cells


def _fitted(
    records: Iterator[tuple[int, Sequence[str]]], faults: dict[int, str], width: int
) -> Iterator[Row]:
    for line, cells in records:
        fault = faults.pop(line, "")
        if fault or any(cell.strip() for cell in cells):
            yield Row(line, tuple(cells), fault or _ragged(cells, width, short=False))
