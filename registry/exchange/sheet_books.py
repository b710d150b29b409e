"""Workbooks: unpacked with bounded memory, their cells as text as they were shown."""

import re
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import partial
from typing import Any, BinaryIO
from xml.etree import ElementTree

import openpyxl
from openpyxl.utils.cell import range_boundaries
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from registry.errors import BadInput
from registry.exchange.sheet_heads import Merge
from registry.exchange.sheet_parts import MOST_LINES, PAGES, PartMeter
from registry.exchange.sheet_text import BLOCK, WHAT_TO_GIVE

MAX_UNPACKED_BYTES = 400_000_000
MAX_SHARED_TEXT_BYTES = 50_000_000
# Styles, names of sheets and the like are held whole.
MAX_PART_BYTES = 10_000_000
MAX_PARTS = 5_000
HEADER_ROWS, MERGES = 20, 2_000
UNPACKING_FAULTS = (
    *(zipfile.BadZipFile, zlib.error, ElementTree.ParseError),
    *(OSError, EOFError, ValueError, RuntimeError),
)
ZERO_PADDED = re.compile(r"^0+$")
# What in a format of numbers stands for itself, or for no sign at all.
WRITTEN_OUT = re.compile(r'"[^"]*"?|[\\_*].|\[[^]]*]', re.DOTALL)
MERGED = re.compile(rb'<mergeCell [^>]*ref="([A-Z]{1,3}\d{1,7}:[A-Z]{1,3}\d{1,7})"')
# Definitions within a part can make little text endless; no workbook needs them.
DEFINITION = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)
OVERLAP = 64
CONTENT_TYPES = "[Content_Types].xml"


@dataclass(frozen=True)
class Book:
    """The first sheet of a workbook: (line, cells, fault) of each row, merged cells, what to tell.

    `counts_from` is the year from which its days are counted.
    """

    rows: Iterator[tuple[int, tuple[str, ...], str]]
    merges: tuple[Merge, ...]
    counts_from: str
    notes: tuple[str, ...]


def open_book(source: BinaryIO) -> Book:
    """Open a workbook. Raises BadInput for what is none, is damaged, or would unpack without end."""
    inside = _look_inside(source)
    book = _workbook(source, results=True)
    page = book.worksheets[0] if book.worksheets else None
    if page is None:
        raise BadInput("The workbook has no sheet with cells.")
    part = str(getattr(page, "_worksheet_path", "")).lstrip("/")
    if not part.startswith(PAGES):
        raise _strange_name(part)
    formulas = _workbook(source, results=False).worksheets[0] if inside.formulas else None
    notes: tuple[str, ...] = ()
    if len(book.worksheets) > 1:
        notes = (f"Only the first sheet, '{page.title}', of {len(book.worksheets)} was read.",)
    merges = inside.merges.get(part, ())
    counts_from = "1904" if book.epoch == CALENDAR_MAC_1904 else "1900"
    lacks_text = inside.meters[part].lacks_text
    return Book(_rows(page, formulas, lacks_text), tuple(merges), counts_from, notes)


@dataclass(frozen=True)
class _Inside:
    formulas: bool
    merges: dict[str, list[Merge]]
    meters: dict[str, PartMeter]


def _look_inside(source: BinaryIO) -> _Inside:
    """Refuse a packed file that is no workbook or would unpack without end; find what sheets hold."""
    try:
        with zipfile.ZipFile(source) as packed:
            parts = packed.infolist()
            names = {part.filename for part in parts}
            if CONTENT_TYPES not in names:
                raise BadInput(f"This packed file is not an XLSX workbook. {WHAT_TO_GIVE}")
            _bounded(parts)
            formulas = False
            merges: dict[str, list[Merge]] = {}
            meters: dict[str, PartMeter] = {}
            # What a part is called says nothing of what is read of it: all are looked through.
            for name in sorted(names):
                found = _scan(packed, name)
                formulas = formulas or found.formulas
                merges |= found.merges
                meters |= found.meters
            _named_as_usual(packed.read(CONTENT_TYPES), meters)
            return _Inside(formulas, merges, meters)
    except UNPACKING_FAULTS as fault:
        raise _unreadable(fault) from fault


def _bounded(parts: Sequence[zipfile.ZipInfo]) -> None:
    pages = sum(p.file_size for p in parts if p.filename.startswith(PAGES))
    text = sum(p.file_size for p in parts if p.filename.endswith("sharedStrings.xml"))
    rest = sum(p.file_size for p in parts if p.filename.endswith((".xml", ".rels"))) - pages - text
    if (
        len(parts) > MAX_PARTS
        or sum(p.file_size for p in parts) > MAX_UNPACKED_BYTES
        or text > MAX_SHARED_TEXT_BYTES
        or rest > MAX_PART_BYTES
    ):
        raise BadInput("This workbook is too large; save the sheet as CSV and try again.")


def _named_as_usual(content_types: bytes, meters: dict[str, PartMeter]) -> None:
    """Refuse parts whose names would hide from the bounds that they are held whole in memory."""
    # Definitions were refused before.
    for one in ElementTree.fromstring(content_types).iter():  # noqa: S314 - as the line above says
        name, kind = one.get("PartName", ""), one.get("ContentType", "")
        is_page = kind.endswith("worksheet+xml")
        as_page = name.startswith(f"/{PAGES}")
        if name and kind.endswith("xml") and (not name.endswith(".xml") or as_page > is_page):
            raise _strange_name(name)
        meter = meters.get(name[1:])
        if meter is not None and kind.endswith("main+xml"):
            meter.hold()


def _strange_name(name: str) -> BadInput:
    return BadInput(
        f"This workbook calls a part '{name}' as no spreadsheet program does; it is not read. "
        f"{WHAT_TO_GIVE}"
    )


def _scan(packed: zipfile.ZipFile, name: str) -> _Inside:
    """Look through one part in blocks: formulas, merged cells, definitions, how much it holds."""
    formulas, tail = False, b""
    merges: list[Merge] = []
    is_page = name.startswith(PAGES)
    meter = PartMeter(name)
    with packed.open(name) as part:
        for block in iter(partial(part.read, BLOCK), b""):
            seen = tail + block
            # Without its zeros, text of two bytes a letter reads like that of one.
            if DEFINITION.search(seen.replace(b"\0", b"")) or (
                not tail and seen.startswith((b"\xff\xfe", b"\xfe\xff"))
            ):
                raise BadInput(
                    "This workbook defines its own text within itself, as no spreadsheet program "
                    f"does; it is not read. {WHAT_TO_GIVE}"
                )
            meter.take(block)
            if is_page:
                formulas = formulas or b"<f>" in seen or b"<f " in seen
                merges += _merges(seen)[: MERGES - len(merges)]
            tail = seen[-OVERLAP:]
    return _Inside(formulas, {name: merges} if merges else {}, {name: meter})


def _merges(content: bytes) -> list[Merge]:
    """Return the merged cells that could stand in a header."""
    found = []
    for reference in MERGED.findall(content):
        left, top, right, bottom = range_boundaries(reference.decode())
        if top <= HEADER_ROWS:
            found.append(Merge(top, left, bottom, right))
    return found


def _workbook(source: BinaryIO, *, results: bool) -> Any:
    source.seek(0)
    try:
        return openpyxl.load_workbook(source, read_only=True, data_only=results, keep_links=False)
    except Exception as fault:
        # The reader of a damaged workbook fails in a dozen ways; to its owner they are one.
        raise _unreadable(fault) from fault


def _unreadable(fault: Exception) -> BadInput:
    return BadInput(f"The workbook is damaged and cannot be read ({fault}). {WHAT_TO_GIVE}")


def _rows(page: Any, formulas: Any, lacks_text: bool) -> Iterator[tuple[int, tuple[str, ...], str]]:
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
        if line > MOST_LINES:
            raise BadInput(
                f"The sheet numbers a row beyond {MOST_LINES:,}, as no spreadsheet program does; it is "
                f"not read. {WHAT_TO_GIVE}"
            )
        yield line, tuple(_text(cell) for cell in cells), _uncalculated(cells, written, lacks_text)


def _uncalculated(cells: Sequence[Any], written: Sequence[Any], lacks_text: bool) -> str:
    for cell, formula in zip(cells, written, strict=False):
        # A formula may well come to no text, =IF(A2="","",A2). The reader cannot tell that from a
        # result that is not there, so it is believed where no formula of the sheet lacks its own.
        empty_text = cell.value is None and cell.data_type == "str" and not lacks_text
        if cell.value is None and formula.value is not None and not empty_text:
            return (
                f"holds a formula without its result in cell {formula.coordinate}: open the "
                "workbook, save it again, or save the sheet as CSV"
            )
    return ""


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
    if "%" in WRITTEN_OUT.sub("", shown_as):
        # A quarter is shown as 25%, and a column in percent means just that.
        return f"{_number(value * 100, '')}%"
    if isinstance(value, float) and not value.is_integer():
        # A spreadsheet keeps 15 digits; the rest is an accident of binary fractions.
        return f"{value:.15g}"
    digits = str(int(value))
    return digits.zfill(len(shown_as)) if ZERO_PADDED.match(shown_as) else digits
