"""Vectors: 0, 1-7, 8, 12, 13 and 104 by the disclosure rule of the English hospital statistics, 2018."""

import random
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, milp

from analytics.rules.suppression import HIDDEN, Shape, rounded, table

SHAPE = Shape(
    counts=("eligible", "evaluable", "not_evaluable"),
    sums=(("eligible", ("evaluable", "not_evaluable")),),
    shares=(("rate", ("evaluable", "eligible")),),
)


def rows(*groups: tuple[int, int]) -> list[dict[str, object]]:
    """Return groups of (evaluable, not evaluable), each summed, with the row of all on top."""
    named = [
        ("all", tuple(map(sum, zip(*groups, strict=True)))),
        *zip("ABCDEF", groups, strict=False),
    ]
    return [
        {
            "group": name,
            "eligible": sum(both),
            "evaluable": both[0],
            "not_evaluable": both[1],
            "rate": both[0] / max(1, sum(both)),
            "interval_low": 0.123,
        }
        for name, both in named
    ]


@pytest.mark.parametrize(
    ("count", "told"),
    [(0, 0), (1, HIDDEN), (7, HIDDEN), (8, 10), (12, 10), (13, 15), (104, 105)],
)
def test_counts_are_told_as_the_published_rule_tells_them(count: int, told: int | str) -> None:
    assert rounded(count) == told


def test_what_is_no_count_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        rounded(-1)


def test_shares_are_of_what_is_told_and_nothing_else_is_told() -> None:
    (total, one, _) = table(rows((88, 16), (40, 20)), SHAPE)
    assert one == {
        "group": "A",
        "eligible": 105,
        "evaluable": 90,
        "not_evaluable": 15,
        "rate": 0.86,
    }
    assert "interval_low" not in total


def test_a_hidden_number_hides_another_so_that_it_does_not_come_back() -> None:
    (total, one, two) = table(rows((100, 3), (60, 20)), SHAPE)
    assert one["not_evaluable"] == HIDDEN
    # Along the row the smaller of the other two, down the column the smaller too.
    assert HIDDEN in (one["eligible"], one["evaluable"])
    assert two["not_evaluable"] == HIDDEN
    assert one["rate"] is None
    assert total["eligible"] == 185


def test_noughts_stay_and_hide_nothing() -> None:
    told = table(rows((0, 0), (40, 40)), SHAPE)
    assert told[1] == {**told[1], "eligible": 0, "evaluable": 0, "not_evaluable": 0, "rate": None}
    assert HIDDEN not in {cell for row in told for cell in row.values()}


def test_rows_are_summed_with_those_of_their_own_kind() -> None:
    shape = Shape(counts=("events",), words=("kind", "group"))
    given_rows = [
        {"kind": kind, "group": group, "events": events}
        for kind, group, events in (
            ("nerve", "all", 43),
            ("nerve", "LP", 3),
            ("nerve", "HP", 40),
            ("stiffness", "all", 90),
            ("stiffness", "LP", 50),
            ("stiffness", "HP", 40),
        )
    ]
    told = [row["events"] for row in table(given_rows, shape)]
    assert told == [45, HIDDEN, HIDDEN, 90, 50, 40]


def test_a_number_that_is_said_twice_is_hidden_in_both_places_or_in_none() -> None:
    shape = Shape(
        counts=("missed",),
        words=("by", "line"),
        wholes=(("line", "all", ()),),
        repeats=(("line", "all"),),
    )
    given_rows = [
        {"by": by, "line": line, "missed": missed}
        for by, line, missed in (
            ("step", "6w", 9),
            ("step", "1y", 3),
            ("step", "all", 12),
            ("site", "north", 12),
            ("site", "all", 12),
            ("month", "2026-01", 12),
            ("month", "all", 12),
        )
    ]
    told = [row["missed"] for row in table(given_rows, shape)]
    # 9 and 3 protect each other: the wholes may be told.
    assert told == [HIDDEN, HIDDEN, 10, 10, 10, 10, 10]
    alone = [row for row in given_rows if row["line"] != "6w"]
    assert {row["missed"] for row in table(alone, shape)} == {HIDDEN}


def test_lines_that_are_not_shown_still_hide_what_would_give_one_away() -> None:
    shape = Shape(counts=("events",), only=("A", "B"))
    given_rows = [
        {"group": name, "events": events}
        for name, events in (("A", 20), ("B", 30), ("C", 3), ("all", 53))
    ]
    assert table(given_rows, shape) == [
        {"group": "A", "events": HIDDEN},
        {"group": "B", "events": 30},
    ]


def test_a_whole_without_parts_and_rows_that_do_not_add_up_come_to_an_end() -> None:
    (alone,) = table(rows((40, 9))[:1], SHAPE)
    assert [alone[name] for name in SHAPE.counts] == [50, 40, 10]
    shape = Shape(counts=("a", "b", "c"), sums=(("a", ("b", "c")), ("b", ("a", "c"))), wholes=())
    # Each of a and b would have to be greater than the other.
    (row,) = table([{"group": "all", "a": 3, "b": 4, "c": 5}], shape)
    assert (row["a"], row["b"], row["c"]) == (HIDDEN, HIDDEN, HIDDEN)


@pytest.mark.parametrize("columns", [2, 40])
def test_a_long_table_takes_no_long_time(columns: int) -> None:
    names = tuple(f"n{number}" for number in range(columns))
    dice = random.Random(4)  # noqa: S311 - repeatable, not secret
    given_rows = [
        {"group": f"g{at}", **{name: dice.choice((0, 3, 9, 40)) for name in names}}
        for at in range(100)
    ]
    whole = {name: sum(int(str(row[name])) for row in given_rows) for name in names}
    began = time.process_time()
    told = table([{"group": "all", **whole}, *given_rows], Shape(counts=names))
    assert time.process_time() - began < 20
    assert len(told) == 101


def reachable(told: list[dict[str, object]]) -> dict[tuple[int, str], tuple[float, float]]:
    """Return between what an attacker can pin each hidden number by adding and subtracting all others.

    They know the rule, so a rounded 10 is 8 to 12, and that the rows and columns add up.
    """
    cells = [(at, name) for at in range(len(told)) for name in SHAPE.counts]
    place = {cell: number for number, cell in enumerate(cells)}
    low, high = np.zeros(len(cells)), np.full(len(cells), 10_000.0)
    for cell, number in place.items():
        shown = told[cell[0]][cell[1]]
        if shown == HIDDEN:
            low[number] = 1
        elif shown == 0:
            high[number] = 0
        else:
            low[number], high[number] = max(8, int(str(shown)) - 2), int(str(shown)) + 2
    sums = []
    for at in range(len(told)):
        line = np.zeros(len(cells))
        line[place[at, "eligible"]] = 1
        line[[place[at, "evaluable"], place[at, "not_evaluable"]]] = -1
        sums.append(line)
    for name in SHAPE.counts:
        line = np.zeros(len(cells))
        line[[place[at, name] for at in range(1, len(told))]] = -1
        line[place[0, name]] = 1
        sums.append(line)
    found = {}
    for cell, number in place.items():
        if told[cell[0]][cell[1]] != HIDDEN:
            continue
        ends = []
        for sign in (1, -1):
            wanted = np.zeros(len(cells))
            wanted[number] = sign
            best = milp(
                wanted,
                integrality=np.ones(len(cells)),
                bounds=(low, high),
                constraints=LinearConstraint(np.array(sums), 0, 0),
            )
            assert best.success
            ends.append(sign * best.fun)
        found[cell] = (ends[0], ends[1])
    return found


def test_the_attack_finds_what_is_not_protected() -> None:
    told = [
        {"group": "all", "eligible": 0, "evaluable": 0, "not_evaluable": 0},
        {"group": "A", "eligible": 0, "evaluable": 0, "not_evaluable": 0},
    ]
    told[0]["eligible"] = told[1]["eligible"] = 10
    told[0]["evaluable"] = told[1]["evaluable"] = HIDDEN  # type: ignore[assignment]
    assert reachable(told)[1, "evaluable"] == (8.0, 12.0)


COUNT = st.one_of(st.integers(0, 9), st.integers(0, 60))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(COUNT, COUNT), min_size=2, max_size=5))
def test_no_hidden_number_comes_back_by_subtraction(groups: list[tuple[int, int]]) -> None:
    given_rows = rows(*groups)
    told = table(given_rows, SHAPE)
    for (at, name), (low, high) in reachable(told).items():
        true = int(str(given_rows[at][name]))
        assert low <= true <= high
        assert high - low >= 2, f"{name} of row {at} is known to lie between {low} and {high}"
    for row, plain in zip(told, given_rows, strict=True):
        for name in SHAPE.counts:
            assert row[name] == HIDDEN or not 1 <= int(str(plain[name])) <= 7
