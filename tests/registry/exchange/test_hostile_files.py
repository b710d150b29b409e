"""Hostile files are refused in words, in a process that is allowed little memory."""

import io
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

import pytest

from tests.registry.exchange.test_sheet_books import LAUGHS, plain, rebuilt

ROOT = Path(__file__).resolve().parents[3]
# What reading may take besides the interpreter and its libraries.
ALLOWED_MB = 160
READ = """
import resource, sys
from registry.errors import BadInput
from registry.exchange import sheets
used = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()
limit = used + int(sys.argv[2]) * 1_000_000
resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
try:
    with open(sys.argv[1], 'rb') as source:
        rows = sum(1 for _ in sheets.read(source).rows)
    print('rows', rows)
except BadInput as fault:
    print('refused:', fault)
"""


def read(path: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", READ, str(path), str(ALLOWED_MB)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


def packed(target: BinaryIO, name: str, megabytes: int) -> None:
    with (
        zipfile.ZipFile(plain()) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        with new.open(name, "w", force_zip64=True) as part:
            for _ in range(megabytes):
                part.write(b" " * 1_000_000)


def bomb(target: BinaryIO) -> None:
    packed(target, "xl/worksheets/sheet1.xml", 2_000)


def shared_text(target: BinaryIO) -> None:
    packed(target, "xl/sharedStrings.xml", 2_000)


def laughs(target: BinaryIO) -> None:
    def change(content: bytes) -> bytes:
        start = content.index(b"<", content.find(b"?>") + 1)
        return content[:start] + b"<!DOCTYPE x [" + LAUGHS + b"]>" + content[start:]

    target.write(rebuilt(plain(), "xl/worksheets/sheet1.xml", change).getvalue())


def endless_line(target: BinaryIO) -> None:
    target.write(b"a,b\n")
    for _ in range(300):
        target.write(b"x" * 1_000_000)


def endless_quote(target: BinaryIO) -> None:
    target.write(b'a,b\n"')
    for _ in range(300):
        target.write(b"x\n" * 500_000)


def ten_thousand_columns(target: BinaryIO) -> None:
    target.write(",".join(f"c{n}" for n in range(10_000)).encode())


def record_of_short_lines(target: BinaryIO) -> None:
    target.write(b"a,b\n")
    for _ in range(40):
        target.write(b'"x\n",' * 200_000)


def in_part(name: str, start: bytes, block: bytes, times: int) -> Callable[[BinaryIO], None]:
    """Return what writes a workbook in one part of which a block stands again and again."""

    def write(target: BinaryIO) -> None:
        with (
            zipfile.ZipFile(plain()) as old,
            zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
        ):
            for part in old.namelist():
                if part != name:
                    new.writestr(part, old.read(part))
            before, _, after = old.read(name).partition(start)
            assert after, name
            with new.open(name, "w", force_zip64=True) as part:
                part.write(before + start)
                for _ in range(times):
                    part.write(block)
                part.write(after)

    return write


SHEET, STYLES = "xl/worksheets/sheet1.xml", "xl/styles.xml"
endless_cells = in_part(SHEET, b'<row r="2">', b"<c/>" * 10_000, 500)
endless_text = in_part(SHEET, b'<row r="2">', b"<c><v>" + b"x" * 1_000_000 + b"</v></c>", 300)
endless_rows = in_part(SHEET, b"<sheetData>", b'<row r="1"/>' * 10_000, 800)
endless_around = in_part(SHEET, b"</sheetData>", b"<a/>" * 10_000, 500)
endless_styles = in_part(STYLES, b'<cellXfs count="1">', b"<xf/>" * 10_000, 190)


@pytest.mark.parametrize(
    ("write", "says"),
    [
        (bomb, "refused: This workbook is too large"),
        (shared_text, "refused: This workbook is too large"),
        (laughs, "refused: This workbook defines its own text within itself"),
        (endless_line, "refused: Line 2 is longer than 1,000,000 letters"),
        (endless_quote, "refused: Line 2 cannot be split into values"),
        (ten_thousand_columns, "refused: The first row names 10000 columns; at most 400"),
        (record_of_short_lines, "refused: The row that begins in line 2 is longer than 1,000,000"),
        (endless_cells, "refused: This workbook has more than 16,384 cells"),
        (
            endless_text,
            "refused: This workbook has more than 16,384 cells or 4,000,000 letters in row",
        ),
        (endless_rows, "refused: This workbook has more than 1,048,576 rows"),
        (endless_around, "refused: This workbook has more styles or notes around its cells"),
        (endless_styles, "refused: This workbook has more styles or notes around its cells"),
    ],
)
def test_a_hostile_file_is_refused_in_little_memory(
    write: Callable[[BinaryIO], None], says: str, tmp_path: Path
) -> None:
    path = tmp_path / "hostile"
    with path.open("wb") as target:
        write(target)
    assert read(path).startswith(says)


def test_an_honest_long_file_is_read_in_the_same_memory(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    with path.open("w", encoding="utf-8") as target:
        target.write("a,b,c\n")
        for number in range(400_000):
            target.write(f"{number},{'x' * 200},{number}\n")
    assert read(path) == "rows 400000\n"
    assert isinstance(plain(), io.BytesIO)
