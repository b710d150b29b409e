"""Workbooks give their cells as they were shown, and hostile ones are refused in little memory."""

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from registry.errors import BadInput
from registry.exchange import sheet_books, sheets


def workbook(fill: Callable[[Any], None]) -> io.BytesIO:
    book = openpyxl.Workbook()
    fill(book)
    target = io.BytesIO()
    book.save(target)
    return target


def rebuilt(source: io.BytesIO, name: str, change: Callable[[bytes], bytes]) -> io.BytesIO:
    """Return a workbook one part of which was changed."""
    target = io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        new.writestr(name, change(old.read(name) if name in old.namelist() else b""))
    return target


@pytest.mark.parametrize("epoch", [None, CALENDAR_MAC_1904])
def test_days_are_right_from_whichever_year_they_are_counted(epoch: datetime | None) -> None:
    def fill(book: Any) -> None:
        if epoch is not None:
            book.epoch = epoch
        book.active.append(["number", "day"])
        book.active.append([1, date(2025, 2, 3)])

    source = workbook(fill)
    sheet = sheets.read(source)
    assert [row.cells for row in sheet.rows] == [("1", "2025-02-03")]
    assert sheet.counts_from == ("1900" if epoch is None else "1904")


def test_merged_names_above_the_columns_are_joined() -> None:
    def fill(book: Any) -> None:
        page = book.active
        page.append(["number", "6 weeks", None, "side"])
        page.append([None, "date", "pain", None])
        page.append([1, date(2025, 3, 4), 3, "left"])
        for merged in ("A1:A2", "B1:C1", "D1:D2"):
            page.merge_cells(merged)

    sheet = sheets.read(workbook(fill))
    assert sheet.header == ("number", "6 weeks date", "6 weeks pain", "side")
    assert [(row.line, row.cells) for row in sheet.rows] == [(3, ("1", "2025-03-04", "3", "left"))]


def test_values_of_mixed_kinds_in_one_column_are_each_read_as_shown() -> None:
    def fill(book: Any) -> None:
        for row in (["a", "b"], ["1", 7], ["2", 7.5], ["3", "seven"], ["4", True], ["5", None]):
            book.active.append(row)

    sheet = sheets.read(workbook(fill))
    values = [sheet.values(row)["b"] for row in sheet.rows]
    assert values == ["7", "7.5", "seven", "TRUE", ""]


@pytest.mark.parametrize(
    ("value", "shown_as", "read"),
    [
        (0.25, "0%", "25%"),
        (0.07, "0.00%", "7%"),
        (1, "0%", "100%"),
        (-0.1234, "0.0%;[Red]-0.0%", "-12.34%"),
        (0.5, '0.0 %" of side"', "50%"),
        (25, '0"%"', "25"),
        (25, "0\\%", "25"),
        (2.5, '0.0_%"%"', "2.5"),
        (0.25, "0.00", "0.25"),
        (7, "000", "007"),
    ],
)
def test_a_share_that_is_shown_in_percent_is_read_in_percent(
    value: float, shown_as: str, read: str
) -> None:
    def fill(book: Any) -> None:
        book.active.append(["a", "b"])
        book.active.append([1, value])
        book.active["B2"].number_format = shown_as

    assert [row.cells for row in sheets.read(workbook(fill)).rows] == [("1", read)]


@pytest.mark.parametrize(
    ("cell", "cells", "fault"),
    [
        (b'<c r="B2" t="str"><f>IF(A2="","",A2)</f><v></v></c>', ("x", ""), ""),
        (b'<c r="B2" t="str"><f>IF(A2="","",A2)</f><v/></c>', ("x", ""), ""),
        (b'<c r="B2" t="str"><f>A2</f><v>x</v></c>', ("x", "x"), ""),
        (b'<c r="B2" t="str"><f>A2</f></c>', ("x", ""), "without its result in cell B2"),
        (b'<c r="B2"><f>A2</f></c>', ("x", ""), "without its result in cell B2"),
        (b'<c r="B2"><f>A2</f><v></v></c>', ("x", ""), "without its result in cell B2"),
    ],
)
def test_a_formula_that_comes_to_no_text_has_its_result(
    cell: bytes, cells: tuple[str, ...], fault: str
) -> None:
    def change(content: bytes) -> bytes:
        start = content.index(b'<c r="B2"')
        return content[:start] + cell + content[content.index(b"</c>", start) + 4 :]

    (row,) = sheets.read(rebuilt(plain(), "xl/worksheets/sheet1.xml", change)).rows
    assert row.cells == cells
    assert fault in row.fault
    assert bool(row.fault) == bool(fault)


def plain() -> io.BytesIO:
    def fill(book: Any) -> None:
        book.active.append(["a", "b"])
        book.active.append(["x", "y"])

    return workbook(fill)


def refusal(source: io.BytesIO) -> str:
    with pytest.raises(BadInput) as caught:
        list(sheets.read(source).rows)
    return str(caught.value)


LAUGHS = b"".join(
    b'<!ENTITY l%d "%s">' % (n, (b"&l%d;" % (n - 1)) * 10 if n else b"lol") for n in range(10)
)


@pytest.mark.parametrize(
    "part", ["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml", "[Content_Types].xml"]
)
def test_text_that_multiplies_within_itself_is_refused(part: str) -> None:
    def change(content: bytes) -> bytes:
        start = content.index(b"<", content.find(b"?>") + 1)
        return content[:start] + b"<!DOCTYPE x [" + LAUGHS + b"]>" + content[start:]

    assert "defines its own text within itself" in refusal(rebuilt(plain(), part, change))


def test_a_part_in_another_encoding_hides_no_definition() -> None:
    def change(content: bytes) -> bytes:
        return b"\xff\xfe" + content.decode().encode("utf-16-le")

    source = rebuilt(plain(), "xl/worksheets/sheet1.xml", change)
    assert "defines its own text within itself" in refusal(source)


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_two_bytes_a_letter_without_their_mark_hide_no_definition(encoding: str) -> None:
    def change(content: bytes) -> bytes:
        start = content.index(b"<", content.find(b"?>") + 1)
        text = b"<!DOCTYPE x [" + LAUGHS + b"]>" + content[start:]
        return text.decode().encode(encoding)

    source = rebuilt(plain(), "xl/worksheets/sheet1.xml", change)
    assert "defines its own text within itself" in refusal(source)


def renamed(there: str, here: str, change: Callable[[bytes], bytes] = bytes) -> io.BytesIO:
    """Return a workbook in which a part has another name, wherever it is named."""
    source, target = plain(), io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            content = old.read(part)
            for prefix in ("/", ""):
                content = content.replace(f'"{prefix}{there}"'.encode(), f'"/{here}"'.encode())
            new.writestr(
                here if part == there else part, change(content) if part == there else content
            )
    return target


def test_a_part_with_another_ending_hides_no_definition() -> None:
    def change(content: bytes) -> bytes:
        start = content.index(b"<", content.find(b"?>") + 1)
        return content[:start] + b"<!DOCTYPE x [" + LAUGHS + b"]>" + content[start:]

    source = renamed("xl/worksheets/sheet1.xml", "xl/media/picture.png", change)
    assert "defines its own text within itself" in refusal(source)


@pytest.mark.parametrize(
    ("there", "here"),
    [
        ("xl/worksheets/sheet1.xml", "xl/media/picture.png"),
        ("xl/styles.xml", "xl/media/picture.png"),
        ("xl/styles.xml", "xl/worksheets/text.xml"),
    ],
)
def test_a_part_under_a_name_that_the_bounds_do_not_know_is_refused(there: str, here: str) -> None:
    assert f"calls a part '/{here}'" in refusal(renamed(there, here))


def test_a_sheet_that_is_kept_elsewhere_than_sheets_are_is_refused() -> None:
    def change(content: bytes) -> bytes:
        return content.replace(b"/xl/worksheets/sheet1.xml", b"/xl/theme/theme1.xml")

    source = rebuilt(plain(), "xl/_rels/workbook.xml.rels", change)
    assert "calls a part 'xl/theme/theme1.xml'" in refusal(source)


def test_a_table_of_kinds_that_is_cut_off_is_refused_in_words() -> None:
    cut = rebuilt(plain(), "[Content_Types].xml", lambda content: content[:-20])
    assert "is damaged and cannot be read" in refusal(cut)


@pytest.mark.parametrize("part", ["xl/sharedStrings.xml", "xl/styles.xml"])
def test_what_is_held_whole_is_bounded(part: str) -> None:
    def change(content: bytes) -> bytes:
        return content + b" " * 60_000_000

    source = rebuilt(plain(), part, change)
    assert len(source.getvalue()) < 200_000
    assert "too large" in refusal(source)


def test_a_sheet_that_unpacks_without_end_is_refused() -> None:
    source = plain()
    target = io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
        with new.open("xl/worksheets/sheet9.xml", "w", force_zip64=True) as part:
            for _ in range(410):
                part.write(b" " * 1_000_000)
    assert len(target.getvalue()) < 1_000_000
    assert "too large" in refusal(target)


def test_a_sheet_of_ten_thousand_columns_is_refused() -> None:
    def fill(book: Any) -> None:
        book.active.append([f"c{n}" for n in range(10_000)])

    assert "names 10000 columns; at most 400" in refusal(workbook(fill))


def test_a_row_numbered_beyond_every_sheet_is_refused_instead_of_made_up(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sheet_books, "MOST_LINES", 1_000)

    def change(content: bytes) -> bytes:
        return content.replace(b'<row r="2"', b'<row r="999999999999999"').replace(b'r="A2"', b"")

    source = rebuilt(plain(), "xl/worksheets/sheet1.xml", change)
    assert "numbers a row beyond 1,000" in refusal(source)
