"""The names of columns are found below titles, joined from two lines, and each is its own."""

from collections.abc import Sequence

import pytest

from registry.errors import BadInput
from registry.exchange import sheet_heads
from registry.exchange.sheet_heads import Head, Merge


def head(*rows: str, merges: tuple[Merge, ...] = ()) -> Head:
    records = [(line, row.split(",")) for line, row in enumerate(rows, start=1)]
    return sheet_heads.find(records, merges, nothing="Give a table.")


def rest(found: Head) -> list[int]:
    return [line for line, _ in found.rest]


def test_plain_names_stand_in_the_first_line() -> None:
    found = head("number, side ,day", "1,left,2025")
    assert (found.names, found.line, rest(found)) == (("number", "side", "day"), 1, [2])


def test_titles_and_empty_lines_above_are_passed_over_and_told() -> None:
    found = head("Shoulder list,,", ",,", "number,side,day", "1,left,2025")
    assert (found.names, found.line, rest(found)) == (("number", "side", "day"), 3, [4])
    assert found.notes == ("Passed over above the names of the columns: Shoulder list.",)


def test_a_name_over_several_columns_is_set_before_those_below() -> None:
    found = head(
        "number,6 weeks,,,12 weeks,", ",date,pain,flexion,date,pain", "1,2025-01-01,3,90,,"
    )
    assert found.names == (
        "number",
        "6 weeks date",
        "6 weeks pain",
        "6 weeks flexion",
        "12 weeks date",
        "12 weeks pain",
    )
    assert (found.line, rest(found)) == (2, [3])


def test_merged_cells_say_how_far_a_name_reaches() -> None:
    merges = (Merge(1, 1, 2, 1), Merge(1, 2, 1, 3), Merge(1, 4, 2, 4))
    found = head("number,6 weeks,,side", ",date,pain,", "1,x,y,left", merges=merges)
    assert found.names == ("number", "6 weeks date", "6 weeks pain", "side")


def test_an_empty_name_does_not_turn_the_first_row_of_data_into_names() -> None:
    found = head("number,side,,day", "A1,left,x,2025-03-04")
    assert (found.names, rest(found)) == (("number", "side", "column 3", "day"), [2])


def test_a_name_that_comes_twice_is_told_apart() -> None:
    assert head("date,pain,Date,date", "1,2,3,4").names == ("date", "pain", "Date (2)", "date (3)")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ((",,", ",,"), "The first row is empty"),
        (("lorem ipsum", "dolor"), "names only one column"),
        ((",".join("abc" for _ in range(401)),), "names 401 columns; at most 400"),
        ((",".join("abc" for _ in range(10_000)),), "names 10000 columns; at most 400"),
    ],
)
def test_what_names_no_columns_is_refused(rows: tuple[str, ...], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        head(*rows)


@pytest.mark.parametrize("second", [["x", "y"], ["x", "", "y"]])
def test_a_line_of_endless_commas_costs_its_length(
    second: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    looks = 0

    def counted(cells: Sequence[str]) -> int:
        nonlocal looks
        looks += len(cells)
        assert looks < 3 * len(below)
        return last(cells)

    last = sheet_heads._last
    monkeypatch.setattr(sheet_heads, "_last", counted)
    below = [*second, *[""] * 300_000]
    found = sheet_heads.find([(1, ["a", "b"]), (2, below)], nothing="Give a table.")
    assert (found.names, rest(found)) == (("a", "b"), [2])
