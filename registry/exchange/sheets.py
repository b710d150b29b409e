"""CSV and XLSX files <-> numbered rows of text, without losing a row, a letter or a leading zero."""

import codecs
import csv
import io
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import partial
from itertools import chain
from typing import Any, BinaryIO, TextIO

import openpyxl

from registry.errors import BadInput

MAX_COLUMNS = 400
MAX_UNPACKED_BYTES = 600_000_000
MAX_SHARED_TEXT_BYTES = 100_000_000
BLOCK = 1 << 16
REASON = "reason"
DELIMITERS = ",;\t"
UNPACKING_FAULTS = (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, RuntimeError)
ZIP_MARK, OLD_EXCEL_MARK = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
UTF16_MARKS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
WHAT_TO_GIVE = (
    "Give a CSV file (UTF-8; comma, semicolon or tab between values) or an XLSX workbook."
)

# A spreadsheet program may run a cell that begins with one of these; digits alone run nothing.
STARTS_A_FORMULA = re.compile(r"'*[=@\t\r]|'*[+-](?![\d\s.,()/-]*$)")
ZERO_PADDED = re.compile(r"^0+$")


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
    """A table that is read row by row; `notes` are what its owner should be told about it."""

    header: tuple[str, ...]
    rows: Iterator[Row]
    notes: tuple[str, ...] = ()

    def values(self, row: Row) -> dict[str, str]:
        """Return a row's cells by the lower-case names of their columns."""
        names = (name.casefold() for name in self.header)
        cells = chain(row.cells, ("" for _ in self.header))
        return dict(zip(names, cells, strict=False))


def read(source: BinaryIO) -> Sheet:
    """Open a CSV or XLSX file, told apart by its content; rows come one at a time.

    The source must be seekable and stay open while rows are read. Raises BadInput, at once or at the
    row concerned, for what is not a table with a header.
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
    if start.startswith(UTF16_MARKS):
        raise BadInput("This text is UTF-16. Save it as 'CSV UTF-8' and try again.")
    return _read_xlsx(source) if start.startswith(ZIP_MARK) else _read_csv(source)


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
    kept = [i for i, name in enumerate(header) if name.casefold() != REASON]
    names = [header[i] for i in kept]

    def cells(row: Row, reason: str) -> list[str]:
        own = [row.cells[i] if i < len(row.cells) else "" for i in kept]
        return [*own, reason, *row.cells[len(header) :]]

    return write_rows(target, [*names, REASON], (cells(row, why) for row, why in rejected))


def guarded(cell: str) -> str:
    """Put an apostrophe before a cell that a spreadsheet program could run; `read` takes it off."""
    return f"'{cell}" if STARTS_A_FORMULA.match(cell) else cell


def _unguarded(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and STARTS_A_FORMULA.match(cell) else cell


def _read_csv(source: BinaryIO) -> Sheet:
    encoding, notes = _encoding(source)
    lines = _lines(source, encoding)
    first = next(lines)
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(chain([first], lines), delimiter=delimiter, strict=True)
    records = _records(reader)
    _, names = next(records)
    header = _header(names)
    return Sheet(header, _csv_rows(records, len(header)), notes)


def _encoding(source: BinaryIO) -> tuple[str, tuple[str, ...]]:
    if _decodes(source, "utf-8-sig"):
        return "utf-8-sig", ()
    if _decodes(source, "cp1252"):
        note = (
            "The file is not UTF-8; it was read as Western European text (Windows-1252). "
            "Check accented names."
        )
        return "cp1252", (note,)
    raise BadInput(f"The file is not readable text. {WHAT_TO_GIVE}")


def _decodes(source: BinaryIO, encoding: str) -> bool:
    """Decode a whole file before its first row is used, so that no row is taken by half."""
    source.seek(0)
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        for block in iter(partial(source.read, BLOCK), b""):
            if b"\0" in block:
                raise BadInput(f"The file is not a table but binary data. {WHAT_TO_GIVE}")
            decoder.decode(block)
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        return False
    return True


def _lines(source: BinaryIO, encoding: str) -> Iterator[str]:
    source.seek(0)
    text = io.TextIOWrapper(source, encoding=encoding, newline="")
    try:
        yield from text
    finally:
        # The file is its owner's to close.
        if not source.closed:
            text.detach()


def _records(reader: Any) -> Iterator[tuple[int, list[str]]]:
    while True:
        line = reader.line_num + 1
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as fault:
            raise BadInput(
                f"Line {line} cannot be split into values ({fault}). "
                'A value that contains the separator, a quote or a line break stands between ".'
            ) from fault
        yield line, record


def _csv_rows(records: Iterator[tuple[int, list[str]]], width: int) -> Iterator[Row]:
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


def _header(names: Sequence[str]) -> tuple[str, ...]:
    header = [name.strip() for name in names]
    while header and not header[-1]:
        header.pop()
    if not header:
        raise BadInput("The first row is empty; it must name the columns.")
    if len(header) > MAX_COLUMNS:
        raise BadInput(
            f"The first row names {len(header)} columns; at most {MAX_COLUMNS} are read."
        )
    if "" in header:
        raise BadInput(f"Column {header.index('') + 1} has no name in the first row.")
    lowered = [name.casefold() for name in header]
    twice = next((name for i, name in enumerate(lowered) if name in lowered[:i]), None)
    if twice is not None:
        raise BadInput(f"The column '{twice[:60]}' is named twice in the first row.")
    if len(header) == 1:
        raise BadInput(f"The first row names only one column ('{header[0][:60]}'). {WHAT_TO_GIVE}")
    return tuple(header)


def _read_xlsx(source: BinaryIO) -> Sheet:
    has_formulas = _look_inside(source)
    book = _workbook(source, results=True)
    page = book.worksheets[0] if book.worksheets else None
    if page is None:
        raise BadInput("The workbook has no sheet with cells.")
    formulas = _workbook(source, results=False).worksheets[0] if has_formulas else None
    rows = _xlsx_rows(page, formulas)
    header = _header(next(rows, Row(1, ())).cells)
    notes: tuple[str, ...] = ()
    if len(book.worksheets) > 1:
        notes = (f"Only the first sheet, '{page.title}', of {len(book.worksheets)} was read.",)
    return Sheet(header, _fitted(rows, len(header)), notes)


def _look_inside(source: BinaryIO) -> bool:
    """Refuse a packed file that is no workbook or would unpack without end; find formulas."""
    try:
        with zipfile.ZipFile(source) as packed:
            parts = packed.infolist()
            names = {part.filename for part in parts}
            if "[Content_Types].xml" not in names:
                raise BadInput(f"This packed file is not an XLSX workbook. {WHAT_TO_GIVE}")
            total = sum(part.file_size for part in parts)
            text = sum(p.file_size for p in parts if p.filename.endswith("sharedStrings.xml"))
            if total > MAX_UNPACKED_BYTES or text > MAX_SHARED_TEXT_BYTES:
                raise BadInput("This workbook is too large; save the sheet as CSV and try again.")
            pages = [name for name in names if name.startswith("xl/worksheets/")]
            return any(_holds_formula(packed, name) for name in pages)
    except UNPACKING_FAULTS as fault:
        raise _unreadable(fault) from fault


def _holds_formula(packed: zipfile.ZipFile, name: str) -> bool:
    tail = b""
    with packed.open(name) as part:
        for block in iter(partial(part.read, BLOCK), b""):
            if b"<f>" in tail + block or b"<f " in tail + block:
                return True
            tail = block[-2:]
    return False


def _workbook(source: BinaryIO, *, results: bool) -> Any:
    source.seek(0)
    try:
        return openpyxl.load_workbook(source, read_only=True, data_only=results)
    except Exception as fault:
        # The reader of a damaged workbook fails in a dozen ways; to its owner they are one.
        raise _unreadable(fault) from fault


def _unreadable(fault: Exception) -> BadInput:
    return BadInput(f"The workbook is damaged and cannot be read ({fault}). {WHAT_TO_GIVE}")


def _xlsx_rows(page: Any, formulas: Any) -> Iterator[Row]:
    # Some programs write a wrong size of the sheet, which would cut rows off.
    page.reset_dimensions()
    beside: Iterator[Any] = iter(())
    if formulas is not None:
        formulas.reset_dimensions()
        beside = iter(formulas.iter_rows())
    rows = enumerate(page.iter_rows(), start=1)
    while True:
        try:
            line, cells = next(rows)
            written = next(beside, ())
        except StopIteration:
            return
        except Exception as fault:
            raise _unreadable(fault) from fault
        _all_calculated(cells, written)
        yield Row(line, tuple(_text(cell) for cell in cells))


def _all_calculated(cells: Sequence[Any], written: Sequence[Any]) -> None:
    for cell, formula in zip(cells, written, strict=False):
        if cell.value is None and formula.value is not None:
            raise BadInput(
                f"Cell {formula.coordinate} holds a formula without its result. "
                "Open the workbook, save it again, or save the sheet as CSV."
            )


def _fitted(rows: Iterator[Row], width: int) -> Iterator[Row]:
    for row in rows:
        if any(cell.strip() for cell in row.cells):
            yield Row(row.line, row.cells, _ragged(row.cells, width, short=False))


def _text(cell: Any) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        whole = value.time() == time()
        return value.date().isoformat() if whole else value.isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, int | float):
        return _number(value, str(cell.number_format))
    return str(value)


def _number(value: int | float, shown_as: str) -> str:
    if isinstance(value, float) and not value.is_integer():
        # A spreadsheet keeps 15 digits; the rest is an accident of binary fractions.
        return f"{value:.15g}"
    digits = str(int(value))
    return digits.zfill(len(shown_as)) if ZERO_PADDED.match(shown_as) else digits
