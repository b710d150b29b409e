"""A text file says how it is written, or its words do, or a person."""

import io

import pytest

from registry.errors import BadInput
from registry.exchange import sheet_text, sheets
from registry.exchange.sheet_text import Written
from registry.exchange.sheets import AmbiguousText

TABLE = "name;side\nM\u00fcller;left\n"


def cells(content: bytes, written: Written = sheets.FIND_OUT) -> list[tuple[str, ...]]:
    return [row.cells for row in sheets.read(io.BytesIO(content), written).rows]


@pytest.mark.parametrize(
    "content",
    [
        TABLE.encode(),
        TABLE.encode("utf-8-sig"),
        b"\xff\xfe" + TABLE.encode("utf-16-le"),
        b"\xfe\xff" + TABLE.encode("utf-16-be"),
        TABLE.encode("cp1252"),
        TABLE.replace(";", "|").encode(),
        TABLE.replace(";", "\t").encode("utf-16"),
        TABLE.replace("\n", "\r\n").encode(),
        TABLE.replace("\n", "\r").encode(),
    ],
)
def test_every_usual_way_of_writing_is_read(content: bytes) -> None:
    assert cells(content) == [("M\u00fcller", "left")]
    assert sheets.read(io.BytesIO(content)).header == ("name", "side")


def test_text_of_another_machine_is_asked_about_with_its_words() -> None:
    content = TABLE.encode("mac_roman")
    with pytest.raises(AmbiguousText, match="can be read in several ways") as caught:
        cells(content)
    shown = {one.encoding: one.words for one in caught.value.previews}
    assert shown["mac_roman"] == ("M\u00fcller",)
    assert cells(content, Written(encoding="mac_roman")) == [("M\u00fcller", "left")]


def test_an_encoding_that_cannot_be_is_refused_by_name() -> None:
    with pytest.raises(BadInput, match="cannot be read as UTF-8"):
        cells(TABLE.encode("cp1252"), Written(encoding="utf-8-sig"))
    with pytest.raises(BadInput, match="cannot be read as klingon"):
        cells(TABLE.encode(), Written(encoding="klingon"))


def test_a_separator_can_be_said() -> None:
    assert cells(b"a,b;c\n1,2;3\n4,5;6\n", Written(separator=";")) == [("1,2", "3"), ("4,5", "6")]


def test_one_endless_line_is_refused_before_it_is_held() -> None:
    with pytest.raises(BadInput, match="Line 2 is longer than 1,000,000 letters"):
        cells(b"a,b\n" + b"x" * 3_000_000)


def test_an_accented_word_across_two_blocks_is_one_word() -> None:
    before = b"name,side\n" + b"a,b\n" * ((sheet_text.BLOCK - 12) // 4)
    found = sheet_text.look(io.BytesIO(before + "M\u00fcller,left\n".encode("cp1252")))
    assert found.previews[0].words == ("M\u00fcller",)
    assert (found.encoding, found.sure) == ("cp1252", True)


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_a_letter_that_no_text_holds_is_refused_at_its_line(encoding: str) -> None:
    mark = b"\xff\xfe" if encoding == "utf-16-le" else b"\xfe\xff"
    content = mark + "name;side\nM\0ller;left\n".encode(encoding)
    with pytest.raises(BadInput, match=r"Line 2 holds the letter U\+0000"):
        cells(content)
