"""Text files of tables: in which encoding, with which separator, and their records one by one."""

import codecs
import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import BinaryIO

from registry.errors import BadInput
from registry.rules import encodings
from registry.rules.encodings import Preview

BLOCK = 1 << 16
SEPARATORS = ",;\t|"
LOOKED_AT = 12
WORDS = 200
# A line of 400 columns of 300 letters is a tenth of this; so is a record over several lines.
LONGEST_LINE = 1_000_000
MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
WHAT_TO_GIVE = "Give a CSV file (comma, semicolon, tab or | between values) or an XLSX workbook."


@dataclass(frozen=True)
class Written:
    """How a text file is written; what is empty is found out."""

    encoding: str = ""
    separator: str = ""


@dataclass(frozen=True)
class Found:
    """What was found out about a text file: where it is not `sure`, a person picks a preview."""

    encoding: str
    separator: str
    sure: bool
    previews: tuple[Preview, ...] = ()

    @property
    def note(self) -> str:
        """What the owner of the file should be told; '' for a file that says itself what it is."""
        if not self.previews:
            return ""
        shown = ", ".join(self.previews[0].words[:3])
        return (
            f"The file is not UTF-8; it was read as {encodings.NAMES[self.encoding]}. "
            f"Check accented names: {shown}."
        )


def look(source: BinaryIO, written: Written = Written()) -> Found:
    """Find out how a text file is written, reading all of it in blocks.

    Raises BadInput for what is no text, or cannot be in the encoding that was said.
    """
    previews: tuple[Preview, ...] = ()
    encoding, sure = written.encoding, True
    if encoding:
        if encoding not in encodings.NAMES or not _decodes(source, encoding):
            raise BadInput(f"The file cannot be read as {encodings.NAMES.get(encoding, encoding)}.")
    else:
        encoding, sure, previews = _encoding(source)
    separator = written.separator or encodings.separator_of(
        _first_lines(source, encoding), SEPARATORS
    )
    return Found(encoding, separator, sure, previews)


def records(source: BinaryIO, found: Found) -> Iterator[tuple[int, list[str]]]:
    """Yield (line, values) of every record.

    Raises BadInput at a line that cannot be split, or a line or record that is too long to be one.
    """
    length = 0
    line = 1

    def counted() -> Iterator[str]:
        nonlocal length
        for text in _lines(source, found.encoding):
            length += len(text)
            if length > LONGEST_LINE:
                raise BadInput(
                    f"The row that begins in line {line} is longer than {LONGEST_LINE:,} letters, over "
                    f"several lines; is a quote there not closed? {WHAT_TO_GIVE}"
                )
            yield text

    reader = csv.reader(counted(), delimiter=found.separator, strict=True)
    while True:
        line, length = reader.line_num + 1, 0
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


def _encoding(source: BinaryIO) -> tuple[str, bool, tuple[Preview, ...]]:
    source.seek(0)
    start = source.read(3)
    for mark, encoding in MARKS:
        if start.startswith(mark):
            if _decodes(source, encoding):
                return encoding, True, ()
            raise BadInput(
                f"The file is damaged: it begins as {encodings.NAMES[encoding]}. {WHAT_TO_GIVE}"
            )
    _no_binary(source)
    if _decodes(source, "utf-8-sig"):
        return "utf-8-sig", True, ()
    found = encodings.previews(_accented(source))
    if not found:
        raise BadInput(f"The file is not readable text. {WHAT_TO_GIVE}")
    sure = found[0].plausible and not (len(found) > 1 and found[1].plausible)
    return found[0].encoding, sure, tuple(found)


def _no_binary(source: BinaryIO) -> None:
    source.seek(0)
    for block in iter(partial(source.read, BLOCK), b""):
        if b"\0" in block:
            raise BadInput(f"The file is not a table but binary data. {WHAT_TO_GIVE}")


def _decodes(source: BinaryIO, encoding: str) -> bool:
    """Decode a whole file before its first row is used, so that no row is taken by half."""
    source.seek(0)
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        for block in iter(partial(source.read, BLOCK), b""):
            decoder.decode(block)
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        return False
    return True


def _accented(source: BinaryIO) -> list[bytes]:
    """Return different words with bytes beyond ASCII, the first so many of the file."""
    source.seek(0)
    found: dict[bytes, None] = {}
    rest = b""
    for block in iter(partial(source.read, BLOCK), b""):
        whole = rest + block
        # A word may go on in the next block.
        cut = max(whole.rfind(b"\n"), whole.rfind(b","), whole.rfind(b";")) + 1 or len(whole)
        for word in encodings.ACCENTED.findall(whole[:cut]):
            found[word[:60]] = None
            if len(found) >= WORDS:
                return list(found)
        rest = whole[cut:][-BLOCK:]
    found |= dict.fromkeys(word[:60] for word in encodings.ACCENTED.findall(rest))
    return list(found)


def _first_lines(source: BinaryIO, encoding: str) -> list[str]:
    lines = _lines(source, encoding)
    return [line for line, _ in zip(lines, range(LOOKED_AT), strict=False)]


def _lines(source: BinaryIO, encoding: str) -> Iterator[str]:
    source.seek(0)
    text = io.TextIOWrapper(source, encoding=encoding, newline="")
    try:
        number = 0
        while line := text.readline(LONGEST_LINE):
            number += 1
            if len(line) >= LONGEST_LINE:
                raise BadInput(
                    f"Line {number} is longer than {LONGEST_LINE:,} letters; this is no table with "
                    f"a row on each line. {WHAT_TO_GIVE}"
                )
            if "\0" in line:
                raise BadInput(
                    f"Line {number} holds the letter U+0000, which is in no text; the file is damaged. "
                    f"{WHAT_TO_GIVE}"
                )
            # The mark that UTF-16 begins with is no part of the first name.
            yield line.removeprefix("\ufeff") if number == 1 else line
    finally:
        # The file is its owner's to close.
        if not source.closed:
            text.detach()
