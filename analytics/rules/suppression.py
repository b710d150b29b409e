"""Small numbers in tables that leave the team: which counts are hidden, so that none comes back.

One rule: counts of 1 to 7 are hidden, all others rounded to the nearest 5, nought stays nought
(disclosure rule of the English hospital statistics, 2018). Where a hidden number would follow from a
sum by subtraction, the smallest of the others in that sum is hidden as well, until nothing follows; so
too where the roundings alone would pin it to two values.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

HIDDEN = "*"
HIDE_UP_TO = 7
ROUND_TO = 5
# Between its least and its most possible value a hidden number keeps at least this much room.
NARROWEST = 2
# What is known narrows from sum to sum; each further step takes a longer chain of them.
MOST_STEPS = 50
RULE = (
    f"small numbers hidden: counts of 1 to {HIDE_UP_TO} are written {HIDDEN}, as is whatever would "
    f"give them away; all others are rounded to the nearest {ROUND_TO}; shares are of the rounded "
    "counts, and what else was computed is left out"
)
Cell = tuple[int, str]
Row = Mapping[str, Any]


@dataclass(frozen=True)
class Shape:
    """What of a table are counts, and how they hang together.

    `counts` are the columns of counts. `sums` names for a whole the columns whose sum it is, `shares`
    for a share its numerator and denominator. `words` are the columns that tell rows apart and stay as
    they are. `wholes` says of a word by which value the row is told that is the sum of the others which
    are alike in all other words, and of which columns (none named: of all counts). `repeats` names a
    word and a value of it whose rows all say the same numbers, each in another division of them.
    `only` are the values of the first word whose rows are told; the others serve to hide. Everything
    else in the table is left out.
    """

    counts: tuple[str, ...]
    words: tuple[str, ...] = ("group",)
    sums: tuple[tuple[str, tuple[str, ...]], ...] = ()
    shares: tuple[tuple[str, tuple[str, str]], ...] = ()
    wholes: tuple[tuple[str, str, tuple[str, ...]], ...] = (("group", "all", ()),)
    repeats: tuple[tuple[str, str], ...] = ()
    only: tuple[str, ...] = ()


def rounded(count: int) -> int | str:
    """Return a count as it may leave: nought, hidden, or the nearest multiple of 5.

    Raises ValueError for a count below nought.
    """
    if count < 0:
        raise ValueError(f"a count is 0 or more, not {count}")
    if count == 0:
        return 0
    return HIDDEN if count <= HIDE_UP_TO else (count + ROUND_TO // 2) // ROUND_TO * ROUND_TO


def table(rows: Sequence[Row], shape: Shape, hide: Collection[str] = ()) -> list[dict[str, Any]]:
    """Return the rows as they may leave the team: words, rounded counts, shares of those.

    `hide` are groups whose counts are hidden however large they are. Raises ValueError for a count that
    is none.
    """
    hidden = _hidden(rows, shape, hide)
    return [
        _row(at, row, shape, hidden)
        for at, row in enumerate(rows)
        if not shape.only or row.get(shape.words[0]) in shape.only
    ]


def _row(at: int, row: Row, shape: Shape, hidden: set[Cell]) -> dict[str, Any]:
    told: dict[str, Any] = {name: row.get(name) for name in shape.words}
    for name in shape.counts:
        told[name] = HIDDEN if (at, name) in hidden else rounded(row[name])
    for name, (part, of) in shape.shares:
        known = HIDDEN not in (told[part], told[of]) and told[of]
        told[name] = round(told[part] / told[of], 2) if known else None
    return told


def _hidden(rows: Sequence[Row], shape: Shape, hide: Collection[str]) -> set[Cell]:
    hidden = {
        (at, name)
        for at, row in enumerate(rows)
        for name in shape.counts
        if rounded(row[name]) == HIDDEN or (row[name] > 0 and str(row.get("group")) in hide)
    }
    sums = _sums(rows, shape)
    while True:
        more = {cell for parts in sums if (cell := _next(parts, rows, hidden)) is not None}
        more = more or _beside_the_pinned(rows, sums, hidden)
        if not more:
            return hidden
        hidden |= more


def _beside_the_pinned(rows: Sequence[Row], sums: list[list[Cell]], hidden: set[Cell]) -> set[Cell]:
    """Return what to hide beside the numbers that sums of rounded ones leave too few values for."""
    more = set()
    between = _known_between(rows, sums, hidden)
    for cell in hidden & between.keys():
        low, high = between[cell]
        # Where the ends have crossed, the rows are no parts of the whole, and nothing follows from it.
        if 0 <= high - low < NARROWEST:
            beside = {one for parts in sums if cell in parts for one in parts} - hidden
            told = [one for one in beside if rows[one[0]][one[1]] > 0]
            if told:
                more.add(min(told, key=lambda one: (rows[one[0]][one[1]], one)))
    return more


def _known_between(
    rows: Sequence[Row], sums: list[list[Cell]], hidden: set[Cell]
) -> dict[Cell, tuple[float, float]]:
    """Return between what each number must lie for whoever knows the rule and adds up what is told."""
    between: dict[Cell, tuple[float, float]] = {}
    for cell in {cell for parts in sums for cell in parts}:
        told = rounded(rows[cell[0]][cell[1]])
        if cell in hidden or isinstance(told, str):
            between[cell] = (1, math.inf)
        else:
            least = max(HIDE_UP_TO + 1, told - ROUND_TO // 2)
            between[cell] = (least, told + ROUND_TO // 2) if told else (0, 0)
    for _ in range(MOST_STEPS):
        before = dict(between)
        for cells in sums:
            for cell, (low, high) in _tightened(cells, between):
                between[cell] = max(low, between[cell][0]), min(high, between[cell][1])
        if between == before:
            break
    return between


def _tightened(
    cells: list[Cell], between: Mapping[Cell, tuple[float, float]]
) -> list[tuple[Cell, tuple[float, float]]]:
    """Return between what one sum alone lets its whole, the first cell, and each of its parts lie."""
    whole, *parts = cells
    low, high = between[whole]
    lows = sum(between[part][0] for part in parts)
    highs = [between[part][1] for part in parts]
    # Of what has no end nothing can be taken away: how many such there are is counted.
    endless, finite = highs.count(math.inf), sum(end for end in highs if end < math.inf)
    found = [(whole, (lows, math.inf if endless else finite))]
    for part, end in zip(parts, highs, strict=True):
        others_endless = endless - (end == math.inf)
        others_high = math.inf if others_endless else finite - (0 if end == math.inf else end)
        found.append((part, (low - others_high, high - (lows - between[part][0]))))
    return found


def _sums(rows: Sequence[Row], shape: Shape) -> list[list[Cell]]:
    """Return each sum as its cells: the whole first, then its parts, along rows and down columns.

    A whole that stands there without any part is no sum.
    """
    along = [
        [(at, whole), *((at, name) for name in parts)]
        for at in range(len(rows))
        for whole, parts in shape.sums
    ]
    for word, whole, columns in shape.wholes:
        along += _down(rows, shape, word, whole, columns or shape.counts)
    for word, value in shape.repeats:
        same = [at for at, row in enumerate(rows) if row.get(word) == value]
        # A number and its repetition are a sum of one part: where one is hidden, so is the other.
        along += [
            [(one, name), (two, name)] for one, two in pairwise(same) for name in shape.counts
        ]
    return [cells for cells in along if len(cells) > 1]


def _down(
    rows: Sequence[Row], shape: Shape, word: str, whole: str, columns: tuple[str, ...]
) -> list[list[Cell]]:
    alike: dict[tuple[Any, ...], list[int]] = {}
    for at, row in enumerate(rows):
        key = tuple(row.get(other) for other in shape.words if other != word)
        alike.setdefault(key, []).append(at)
    for members in alike.values():
        members.sort(key=lambda at: rows[at].get(word) != whole)
    return [
        [(at, name) for at in members]
        for members in alike.values()
        if rows[members[0]].get(word) == whole
        for name in columns
    ]


def _next(cells: list[Cell], rows: Sequence[Row], hidden: set[Cell]) -> Cell | None:
    """Return the cell to hide beside one that stands hidden alone in its sum; a nought tells nothing."""
    there = [cell for cell in cells if rows[cell[0]][cell[1]] > 0]
    alone = [cell for cell in there if cell in hidden]
    if len(alone) != 1:
        return None
    others = [cell for cell in there if cell not in hidden]
    return min(others, key=lambda cell: (rows[cell[0]][cell[1]], cell)) if others else None
