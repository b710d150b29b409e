import csv
import io
import random
import time
import zipfile
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.errors import BadInput
from registry.exchange import sheet_books, sheets


def text(content: str, encoding: str = "utf-8") -> io.BytesIO:
    return io.BytesIO(content.encode(encoding))


def workbook(*rows: list[Any], pages: int = 1) -> io.BytesIO:
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    for _ in range(pages - 1):
        book.create_sheet()
    target = io.BytesIO()
    book.save(target)
    return target


def cells_of(source: io.BytesIO) -> list[tuple[str, ...]]:
    return [row.cells for row in sheets.read(source).rows]


def refusal(source: io.BytesIO) -> str:
    with pytest.raises(BadInput) as caught:
        list(sheets.read(source).rows)
    return str(caught.value)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_comma_semicolon_and_tab_separate_values(separator: str) -> None:
    sheet = sheets.read(text(f"local_id{separator}side\n007{separator}left\n"))
    assert sheet.header == ("local_id", "side")
    assert [(row.line, row.cells) for row in sheet.rows] == [(2, ("007", "left"))]


def test_a_byte_order_mark_is_no_part_of_the_first_name() -> None:
    assert sheets.read(text("\ufefflocal_id,side\n1,left\n")).header == ("local_id", "side")


def test_western_european_text_is_read_and_announced() -> None:
    sheet = sheets.read(text("name,side\nM\u00fcller,left\n", "cp1252"))
    assert next(sheet.rows).cells == ("M\u00fcller", "left")
    assert "not UTF-8" in sheet.notes[0]


def test_utf8_text_needs_no_announcement() -> None:
    assert sheets.read(text("name,side\nM\u00fcller,left\n")).notes == ()


def test_values_are_found_by_lower_case_column_names() -> None:
    sheet = sheets.read(text("Local_ID, Side \n1,left\n"))
    assert sheet.values(next(sheet.rows)) == {"local_id": "1", "side": "left"}


def test_a_value_may_hold_separators_quotes_and_line_breaks() -> None:
    sheet = sheets.read(text('a,b\n"x, ""y""\nz",1\n2,3\n'))
    assert [(row.line, row.cells) for row in sheet.rows] == [
        (2, ('x, "y"\nz', "1")),
        (4, ("2", "3")),
    ]


def test_blank_lines_are_skipped_and_line_numbers_stay_true() -> None:
    sheet = sheets.read(text("a,b\n\n1,2\n,\n3,4\n"))
    assert [row.line for row in sheet.rows] == [3, 5]


def test_a_row_longer_than_the_header_is_marked() -> None:
    row = next(sheets.read(text("a,b\n1,2,3\n")).rows)
    assert row.fault == "has 3 values where the header names 2"


def test_a_row_that_was_cut_off_is_marked() -> None:
    row = next(sheets.read(text("a,b,c\n1,2\n")).rows)
    assert "only 2 values where the header names 3" in row.fault


def test_empty_columns_after_the_last_are_no_fault() -> None:
    sheet = sheets.read(text("a,b,,\n1,2,,\n"))
    assert sheet.header == ("a", "b")
    assert next(sheet.rows).fault == ""


def test_a_quote_that_is_never_closed_swallows_no_rows() -> None:
    assert "Line 2 cannot be split" in refusal(text('a,b\n"1,2\n3,4\n'))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("", "empty"),
        ("\n\n", "first row is empty"),
        (",,\n,,\n", "first row is empty"),
        ("a\n1\n", "only one column"),
        (",".join(f"c{i}" for i in range(401)), "401 columns; at most 400"),
    ],
)
def test_what_has_no_usable_header_is_refused(content: str, says: str) -> None:
    assert says in refusal(text(content))


def test_the_file_stays_open_for_its_owner() -> None:
    source = text("a,b\n1,2\n")
    assert cells_of(source) == cells_of(source) == [("1", "2")]


def test_a_long_file_keeps_every_row() -> None:
    rows = 70_000
    source = text("local_id,side\n" + "".join(f"{i:07d},left\n" for i in range(rows)))
    sheet = sheets.read(source)
    seen = [row.cells[0] for row in sheet.rows]
    assert (len(seen), seen[0], seen[-1]) == (rows, "0000000", "0069999")


def test_a_long_workbook_keeps_every_row() -> None:
    book = openpyxl.Workbook(write_only=True)
    page = book.create_sheet()
    page.append(["local_id", "side"])
    for number in range(66_000):
        page.append([f"{number:07d}", "left"])
    target = io.BytesIO()
    book.save(target)
    last = None
    for count, row in enumerate(sheets.read(target).rows, start=1):
        last = (count, row.line, row.cells)
    assert last == (66_000, 66_001, ("0065999", "left"))


def test_a_workbook_keeps_zeros_dates_and_numbers_as_they_were_shown() -> None:
    moment = datetime(2024, 3, 5, 8, 30)  # noqa: DTZ001 - a spreadsheet knows no time zone
    source = workbook(
        ["text", "padded", "day", "moment", "whole", "part", "sum", "true", "none", "last"],
        ["007", 42, date(2024, 3, 5), moment, 7.0, 7.25, 0.1 + 0.2, True, None, "x"],
    )
    book = openpyxl.load_workbook(source)
    book.active["B2"].number_format = "000000"
    book.save(source)
    row = next(sheets.read(source).rows)
    assert row.cells == (
        "007",
        "000042",
        "2024-03-05",
        "2024-03-05 08:30:00",
        "7",
        "7.25",
        "0.3",
        "TRUE",
        "",
        "x",
    )


def test_a_workbook_with_a_wrong_size_loses_nothing() -> None:
    source = workbook(["a", "b"], ["1", "2"], ["3", "4"])
    changed = io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(changed, "w") as new:
        for part in old.namelist():
            content = old.read(part)
            if part.startswith("xl/worksheets/"):
                assert b'ref="A1:B3"' in content
                content = content.replace(b'ref="A1:B3"', b'ref="A1"')
            new.writestr(part, content)
    assert cells_of(changed) == [("1", "2"), ("3", "4")]


def test_a_short_row_of_a_workbook_is_whole() -> None:
    sheet = sheets.read(workbook(["a", "b", "c"], ["1"], [None, None, None], ["2", "3", "4"]))
    rows = list(sheet.rows)
    assert [(row.line, row.fault) for row in rows] == [(2, ""), (4, "")]
    assert sheet.values(rows[0]) == {"a": "1", "b": "", "c": ""}


def test_sheets_after_the_first_are_announced_as_not_read() -> None:
    assert "first sheet" in sheets.read(workbook(["a", "b"], ["1", "2"], pages=2)).notes[0]


def test_a_formula_without_its_result_is_a_fault_of_its_row() -> None:
    rows = list(sheets.read(workbook(["a", "b"], ["1", "=1+1"], ["2", "3"])).rows)
    assert "holds a formula without its result in cell B2" in rows[0].fault
    assert (rows[1].cells, rows[1].fault) == (("2", "3"), "")


def test_a_formula_with_its_result_is_read() -> None:
    source = workbook(["a", "b"], ["1", "=1+1"])
    changed = io.BytesIO()
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(changed, "w") as new:
        for part in old.namelist():
            content = old.read(part).replace(b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>")
            content = content.replace(b"<f>1+1</f><v></v>", b"<f>1+1</f><v>2</v>")
            new.writestr(part, content)
    assert cells_of(changed) == [("1", "2")]


def junk(size: int) -> bytes:
    return random.Random(4).randbytes(size)  # noqa: S311 - nonsense, not a secret


TEN_MEGABYTES = 10_000_000


@pytest.mark.parametrize(
    "content",
    [
        junk(TEN_MEGABYTES),
        b"PK\x03\x04" + junk(TEN_MEGABYTES),
        b"x" * TEN_MEGABYTES,
        b"x," * (TEN_MEGABYTES // 2),
        b'a,b\n"' + b"x\n" * (TEN_MEGABYTES // 2),
        b"lorem ipsum\n" * (TEN_MEGABYTES // 12),
        b"\xd0\xcf\x11\xe0" + junk(TEN_MEGABYTES),
        b"\xff\xfe" + b"\x00\xd8" * 500,
    ],
    ids=[
        "random",
        "packed",
        "one letter",
        "commas",
        "open quote",
        "prose",
        "old excel",
        "half of a letter",
    ],
)
def test_ten_megabytes_of_nonsense_are_refused_at_once(content: bytes) -> None:
    started = time.process_time()
    message = refusal(io.BytesIO(content))
    assert time.process_time() - started < 5
    assert len(message) < 400
    assert "CSV" in message or "between" in message or "columns" in message


def test_a_packed_file_that_is_no_workbook_is_refused() -> None:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as packed:
        packed.writestr("readme.txt", "hello")
    assert "not an XLSX workbook" in refusal(target)


def test_a_workbook_that_unpacks_without_end_is_refused() -> None:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", "<x/>")
        packed.writestr("xl/sharedStrings.xml", b" " * (sheet_books.MAX_SHARED_TEXT_BYTES + 1))
    assert len(target.getvalue()) < 1_000_000
    assert "too large" in refusal(target)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.binary(min_size=1, max_size=40))
def test_a_damaged_workbook_is_read_or_refused_but_never_crashes(at: int, damage: bytes) -> None:
    whole = workbook(["a", "b"], ["1", "2"], ["3", "4"]).getvalue()
    place = at % len(whole)
    broken = io.BytesIO(whole[:place] + damage + whole[place + len(damage) :])
    try:
        list(sheets.read(broken).rows)
    except BadInput as fault:
        assert str(fault)  # noqa: PT017 - either ending is right; only the kind of refusal is tested


@pytest.mark.parametrize("cut", range(50, 4000, 250))
def test_a_workbook_cut_short_is_refused(cut: int) -> None:
    whole = workbook(["a", "b"], ["1", "2"]).getvalue()
    assert cut < len(whole)
    assert "workbook" in refusal(io.BytesIO(whole[:cut]))


@pytest.mark.parametrize(
    "cell", ["=1+1", "@x", "\tx", "\rx", "+cmd", "-cmd", "-1+1", "'=1", "''@x", "=", "+x"]
)
def test_a_cell_that_could_run_is_guarded_and_read_back(cell: str) -> None:
    target = io.StringIO(newline="")
    sheets.write_rows(target, ["a", "b"], [[cell, "1"]])
    written = list(csv.reader(io.StringIO(target.getvalue(), newline="")))
    assert written[1] == [f"'{cell}", "1"]
    assert cells_of(text(target.getvalue())) == [(cell, "1")]


@pytest.mark.parametrize("cell", ["-12.5", "+44 20 7946 0000", "-3,5", "a=b", "-", "", "'quoted'"])
def test_a_cell_that_runs_nothing_is_written_as_it_is(cell: str) -> None:
    assert sheets.guarded(cell) == cell


@settings(max_examples=200)
@given(
    st.lists(
        st.lists(
            st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")),
            min_size=3,
            max_size=3,
        ).filter(lambda row: any(cell.strip() for cell in row)),
        max_size=5,
    )
)
def test_what_is_written_is_read_back_letter_by_letter(rows: list[list[str]]) -> None:
    target = io.StringIO(newline="")
    assert sheets.write_rows(target, ["a", "b", "c"], rows) == len(rows)
    assert cells_of(text(target.getvalue())) == [tuple(row) for row in rows]


def test_missing_values_are_written_as_empty_cells() -> None:
    target = io.StringIO(newline="")
    sheets.write_rows(target, ["a", "b"], [[None, 0]])
    assert target.getvalue() == "a,b\r\n,0\r\n"


def test_rejected_rows_come_back_as_they_were_with_a_reason() -> None:
    sheet = sheets.read(text("Local_ID;side\n007;up\n008;left\n"))
    first = next(sheet.rows)
    target = io.StringIO(newline="")
    assert sheets.write_rejected(target, sheet.header, [(first, "side: 'up' is no side")]) == 1
    assert target.getvalue() == "Local_ID,side,reason\r\n007,up,side: 'up' is no side\r\n"


def test_a_corrected_file_of_rejected_rows_gets_new_reasons() -> None:
    sheet = sheets.read(text("a,reason,b\n1,old,2\n"))
    target = io.StringIO(newline="")
    sheets.write_rejected(target, sheet.header, [(row, "new") for row in sheet.rows])
    assert target.getvalue() == "a,b,reason\r\n1,2,new\r\n"


def test_values_beyond_the_header_are_not_lost_on_rejection() -> None:
    sheet = sheets.read(text("a,b\n1,2,3\n"))
    target = io.StringIO(newline="")
    sheets.write_rejected(target, sheet.header, [(row, row.fault) for row in sheet.rows])
    assert target.getvalue().splitlines()[1] == "1,2,has 3 values where the header names 2,3"


def test_a_table_is_streamed_line_by_line_and_runs_no_formula() -> None:
    lines = list(sheets.csv_lines(["name", "day"], [["=1+1", date(2026, 11, 25)], ["a,b", None]]))
    assert lines == ["name,day\r\n", "'=1+1,2026-11-25\r\n", '"a,b",\r\n']


def test_a_workbook_keeps_numbers_and_days_and_runs_no_formula() -> None:
    target = io.BytesIO()
    row = ["=1+1", 3, date(2026, 11, 25), None, True]
    sheets.write_workbook(target, "Due", ["a", "b", "c", "d", "e"], [row])
    page = openpyxl.load_workbook(target)["Due"]
    assert [page[f"{column}2"].value for column in "ABDE"] == ["'=1+1", 3, None, "True"]
    assert page["C2"].value.date() == date(2026, 11, 25)
    assert page["A2"].data_type == "s"
