"""Labels scanned one after the other become lines."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules.scan_list import MOST_LINES, ScanList, after
from tests.registry.rules.label_vectors import GS1, HIBC, TODAY

PLATE, SECOND, SCREW = "(01)09506000134352", "(17)270131(10)B7", "(01)00844588003288(10)S1"


def scanned(*scans: str, kept: tuple[str, ...] = ()) -> ScanList:
    return after(kept, scans, today=TODAY)


def said(found: ScanList) -> list[tuple[str, str, int]]:
    return [(one.label.device_identifier, one.label.batch, one.again) for one in found.lines]


def test_scans_are_lines_and_a_second_symbol_joins_its_first() -> None:
    found = scanned(PLATE, SECOND, SCREW)
    assert said(found) == [("09506000134352", "B7", 0), ("00844588003288", "S1", 0)]
    assert found.told == ()


def test_a_second_symbol_joins_a_line_of_before() -> None:
    found = scanned(SECOND, kept=(SCREW, PLATE))
    assert [(one.place, one.label.batch) for one in found.lines] == [(0, "S1"), (1, "B7")]


def test_the_same_label_again_is_one_more_piece() -> None:
    found = scanned(SCREW, SCREW, kept=(SCREW,))
    assert said(found) == [("00844588003288", "S1", 2)]
    assert "counted once more" in found.told[0]


def test_two_boxes_of_two_symbols_are_two_pieces() -> None:
    assert said(scanned(PLATE, SECOND, PLATE, SECOND)) == [("09506000134352", "B7", 1)]


def test_a_serial_number_is_taken_once() -> None:
    found = scanned("(01)09506000134352(21)S9", kept=("(01)09506000134352(21)S9",))
    assert said(found) == [("09506000134352", "", 0)]
    assert "is in the list already" in found.told[0]


def test_what_cannot_be_read_is_told_of_and_the_rest_stays() -> None:
    found = scanned("hello", SCREW, kept=(PLATE, "nonsense"))
    assert said(found) == [("09506000134352", "", 0), ("00844588003288", "S1", 0)]
    assert len(found.told) == 2
    assert found.told[1].startswith("Not taken: 'hello'")


def test_a_list_has_an_end() -> None:
    scans = [f"(01)09506000134352(21)S{n}" for n in range(MOST_LINES + 1)]
    found = scanned(*scans)
    assert len(found.lines) == MOST_LINES
    assert "save these first" in found.told[-1]


@pytest.mark.parametrize("text", [text for text, *_ in [*GS1, *HIBC]])
def test_a_line_reads_the_same_when_it_comes_back(text: str) -> None:
    first = scanned(text)
    again = scanned(kept=tuple(one.label.raw for one in first.lines))
    assert [one.label for one in again.lines] == [one.label for one in first.lines]


@given(st.lists(st.sampled_from([PLATE, SECOND, SCREW, "hello", "(10)B8"]), max_size=12))
def test_one_by_one_is_the_same_as_all_at_once(scans: list[str]) -> None:
    kept: tuple[str, ...] = ()
    for scan in scans:
        kept = tuple(one.label.raw for one in scanned(scan, kept=kept).lines)
    assert kept == tuple(one.label.raw for one in scanned(*scans).lines)


def test_a_second_symbol_that_could_be_of_two_lines_is_doubted_in_words() -> None:
    bare = "(01)00844588003288"
    found = scanned(SECOND, kept=(bare, PLATE))
    assert said(found) == [("00844588003288", "", 0), ("09506000134352", "B7", 0)]
    (words,) = found.told
    assert words == (
        "Is it of this one? What was scanned (batch B7) was put to 09506000134352, which was scanned last; "
        "00844588003288 has no batch or serial number either. Look at the labels."
    )
    assert scanned(SECOND, kept=(SCREW, PLATE)).told == ()
