"""What a part of a workbook would hold in memory is counted as its reader counts it, and bounded."""

from collections.abc import Callable

import pytest
from openpyxl.xml.constants import SHEET_MAIN_NS

from registry.errors import BadInput
from registry.exchange import sheet_parts
from registry.exchange.sheet_parts import PartMeter

SHEET, TEXTS = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml"


def looked_through(name: str, content: bytes, block: int = 1000) -> PartMeter:
    meter = PartMeter(name)
    for at in range(0, len(content), block):
        meter.take(content[at : at + block])
    return meter


def within(tag: str, content: bytes) -> bytes:
    return f'<{tag} xmlns="{SHEET_MAIN_NS}">'.encode() + content + f"</{tag}>".encode()


def many_of_one(content: bytes) -> bytes:
    return within("worksheet", b"<row>" + content + b"</row>")


def test_honest_rows_are_let_go_of_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet_parts, "MOST_IN_ONE", 6)
    monkeypatch.setattr(sheet_parts, "BYTES_IN_ONE", 1_100)
    content = within("worksheet", b"<row><c><v>1</v></c><c><f>A1</f><v>2</v></c></row>" * 500)
    meter = looked_through(SHEET, content)
    assert (meter.ones, meter.around) == (500, 1)


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        (SHEET, many_of_one(b"<c/>" * 65_537), "more than 16,384 cells .* in row 1"),
        # What only looks like the end of a row is none.
        (SHEET, many_of_one(b"<c/><!-- </row> -->" * 65_537), "more than 16,384 cells"),
        (SHEET, many_of_one(b'<row xmlns="x"><c/></row>' * 65_537), "more than 16,384 cells"),
        (SHEET, within("worksheet", b'<row xmlns="x"/>' * 200_001), "more styles or notes"),
        (TEXTS, within("sst", b"<si>" + b"<r/>" * 65_537 + b"</si>"), "a text longer than any"),
        (TEXTS, within("sst", b"<si><t>" + b"x" * 4_100_000 + b"</t></si>"), "a text longer"),
        ("xl/styles.xml", within("styleSheet", b"<xf/>" * 200_001), "more styles or notes"),
        ("xl/media/a.png", within("a", b"<c/>" * 500_001), "more styles or notes"),
        ("xl/media/a.png", within("a", b"x" * 20_100_000), "more styles or notes"),
    ],
)
def test_what_would_be_held_without_end_is_refused(name: str, content: bytes, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        looked_through(name, content, block=1 << 16)


@pytest.mark.parametrize("close", [bytes, lambda content: content[:-20]])
def test_what_is_no_text_of_the_format_is_left_to_its_reader(
    close: Callable[[bytes], bytes],
) -> None:
    looked_through("xl/media/a.png", b"\x89PNG" + b"<c/>" * 600_000)
    looked_through(SHEET, close(within("worksheet", b"<row/>")))


def test_a_part_that_becomes_objects_as_a_whole_is_held_to_less() -> None:
    meter = looked_through("xl/book.xml", within("workbook", b"<sheet/>" * 200_001), 1 << 16)
    with pytest.raises(BadInput, match="more styles or notes"):
        meter.hold()
