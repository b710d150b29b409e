import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.estimators.intersections import Runs, coded, condense, intersections

# Half days lie between looks, whole ones are looks.
rows = st.lists(
    st.tuples(st.integers(0, 12), st.one_of(st.integers(0, 8), st.just(np.inf))),
    min_size=1,
    max_size=12,
)


def held(left: float, right: float) -> set[float]:
    """Return the whole and the half days that an interval holds, infinite ends cut at 40."""
    if left == right:
        return {left}
    return {day / 2 for day in range(int(2 * left) + 1, int(2 * min(right, 40)) + 1)}


def plain(left: list[float], right: list[float]) -> list[set[float]]:
    """Return the maximal intersections: what days have in common that most rows hold together."""
    holders: dict[float, frozenset[int]] = {}
    for number, ends in enumerate(zip(left, right, strict=True)):
        for day in held(*ends):
            holders[day] = holders.get(day, frozenset()) | {number}
    most = {who for who in holders.values() if not any(who < other for other in holders.values())}
    found = [{day for day in holders if holders[day] == who} for who in most]
    return sorted(found, key=min)


def given_rows(drawn: list[tuple[int, float]]) -> tuple[list[float], list[float]]:
    return [float(left) for left, _ in drawn], [left + length for left, length in drawn]


@given(rows)
def test_cells_are_what_most_rows_have_in_common(drawn: list[tuple[int, float]]) -> None:
    left, right = given_rows(drawn)
    found = intersections(np.array(left), np.array(right))
    cells = [held(*ends) for ends in zip(found.left.tolist(), found.right.tolist(), strict=True)]
    assert cells == plain(left, right)


@given(rows)
def test_a_row_holds_just_the_cells_of_its_run(drawn: list[tuple[int, float]]) -> None:
    left, right = given_rows(drawn)
    found = intersections(np.array(left), np.array(right))
    assert found.count.sum() == len(drawn)
    for number, ends in enumerate(zip(left, right, strict=True)):
        row = found.row_of[number]
        inside = [
            cell
            for cell in range(found.cells)
            if held(found.left[cell], found.right[cell]) <= held(*ends)
        ]
        assert inside == list(range(found.first[row], found.last[row] + 1))


def ends_of(found: Runs) -> list[tuple[float, float]]:
    return list(zip(found.left.tolist(), found.right.tolist(), strict=True))


@pytest.mark.parametrize(
    ("left", "right", "cells"),
    [
        ([3], [3], [(3, 3)]),
        ([3, 3], [3, 5], [(3, 3), (3, 5)]),
        ([1, 3], [3, 3], [(3, 3)]),
        ([0, 2, 5], [np.inf] * 3, [(5, np.inf)]),
        ([0, 0], [0, 4], [(0, 0), (0, 4)]),
        ([0, 1], [1, 2], [(0, 1), (1, 2)]),
    ],
)
def test_points_ties_and_open_ends(
    left: list[float], right: list[float], cells: list[tuple[float, float]]
) -> None:
    assert ends_of(intersections(np.array(left, float), np.array(right, float))) == cells


def test_rows_alike_become_one_with_their_count() -> None:
    found = intersections(np.array([0.0, 2.0, 0.0]), np.array([2.0, 3.0, 2.0]))
    assert sorted(found.count) == [1, 2]
    assert found.row_of[0] == found.row_of[2] != found.row_of[1]


def test_condensing_runs_of_two_samples_keeps_them_apart() -> None:
    # Ten places each; the runs of the second lie ten higher.
    lefts, rights, first, last = condense(np.array([0, 2, 11, 14]), np.array([4, 6, 15, 19]), 20)
    assert (lefts.tolist(), rights.tolist()) == ([2, 14], [4, 15])
    assert (first.tolist(), last.tolist()) == ([0, 0, 1, 1], [0, 0, 1, 1])


def test_a_value_is_a_place_and_the_gap_behind_it_another() -> None:
    found = coded(np.array([2.0, 0.0]), np.array([2.0, np.inf]))
    assert found.values.tolist() == [0, 2, np.inf]
    assert list(zip(found.starts, found.ends, strict=True)) == [(2, 2), (1, 4)]
    assert found.size == 6
