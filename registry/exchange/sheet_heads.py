"""The names of a table's columns: found below titles, joined from two lines, each one its own."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice

from registry.errors import BadInput

MAX_COLUMNS = 400
LOOKED_AT = 12
NAMES_AT_LEAST = 2
# What a cell of data looks like, and no name of a column does.
DATA = re.compile(r"^[\d.,:/+-]+$")


@dataclass(frozen=True)
class Merge:
    """Cells that are shown as one: rows and columns from 1, both ends within."""

    top: int
    left: int
    bottom: int
    right: int


@dataclass(frozen=True)
class Head:
    """The names of the columns, the line of the last of them, what should be told, and the rest."""

    names: tuple[str, ...]
    line: int
    notes: tuple[str, ...]
    rest: Iterator[tuple[int, Sequence[str]]]


def find(
    records: Iterable[tuple[int, Sequence[str]]],
    merges: Sequence[Merge] = (),
    *,
    nothing: str,
) -> Head:
    """Find the header of a table; `nothing` is added where there is none.

    Empty lines and titles of one cell above it are passed over. A name that spans several columns
    is set before each name below it. Raises BadInput for what names no column, one, or too many.
    """
    coming = iter(records)
    raw = list(islice(coming, LOOKED_AT))
    seen = [(line, [cell.strip() for cell in cells]) for line, cells in raw]
    first = _first(seen)
    if first is None:
        raise BadInput("The first row is empty; it must name the columns.")
    line, names = seen[first]
    used = first + 1
    if used < len(seen) and _spans(line, names, seen[used][1], merges):
        names, line, used = _joined(line, names, seen[used][1], merges), seen[used][0], used + 1
    notes = _notes(seen[:first])
    rest = chain(raw[used:], coming)
    return Head(_named(names, nothing), line, notes, rest)


def _first(seen: Sequence[tuple[int, list[str]]]) -> int | None:
    for place, (_, cells) in enumerate(seen):
        filled = sum(bool(cell) for cell in cells)
        below = max((sum(map(bool, row)) for _, row in seen[place + 1 :]), default=0)
        # Of one cell is a title, where more stand in one line below it.
        if filled >= NAMES_AT_LEAST or (filled and below < NAMES_AT_LEAST):
            return place
    return None


def _notes(above: Sequence[tuple[int, list[str]]]) -> tuple[str, ...]:
    titles = [next(cell for cell in cells if cell) for _, cells in above if any(cells)]
    if not titles:
        return ()
    return (f"Passed over above the names of the columns: {'; '.join(titles)[:200]}.",)


def _spans(line: int, top: list[str], below: list[str], merges: Sequence[Merge]) -> bool:
    if any(DATA.match(cell) for cell in below if cell):
        return False
    if merges:
        return any(one.top <= line <= one.bottom and one.right > one.left for one in merges)
    gaps = [place for place in range(len(below)) if not _at(top, place)]
    if not gaps:
        return False
    # Found once: asked anew for each gap, a line of endless commas would cost its length squared.
    end = _last(below)
    named_below = all(_at(below, place) for place in gaps if place <= end)
    covers = any(
        _at(top, place) and _at(below, place) and not _at(top, place + 1) and _at(below, place + 1)
        for place in range(len(below) - 1)
    )
    return named_below and covers and end >= _last(top)


def _joined(line: int, top: list[str], below: list[str], merges: Sequence[Merge]) -> list[str]:
    width = max(len(top), len(below))
    over = [_at(top, place) for place in range(width)]
    for place in range(width):
        if not over[place] and _covered(line, place, below, merges):
            over[place] = over[place - 1]
    return [
        " ".join(word for word in (over[place], _at(below, place)) if word)
        for place in range(width)
    ]


def _covered(line: int, place: int, below: list[str], merges: Sequence[Merge]) -> bool:
    if merges:
        column = place + 1
        return any(
            one.top <= line <= one.bottom and one.left < column <= one.right for one in merges
        )
    # Without merged cells written down: a name reaches over what is named below, up to the next one.
    return place > 0 and bool(_at(below, place)) and bool(_at(below, place - 1))


def _named(given: Sequence[str], nothing: str) -> tuple[str, ...]:
    names = [" ".join(name.split()) for name in given]
    while names and not names[-1]:
        names.pop()
    if len(names) > MAX_COLUMNS:
        raise BadInput(f"The first row names {len(names)} columns; at most {MAX_COLUMNS} are read.")
    if len(names) == 1:
        raise BadInput(f"The first row names only one column ('{names[0][:60]}'). {nothing}")
    taken: set[str] = set()
    found = []
    for number, name in enumerate(names, start=1):
        plain = own = name or f"column {number}"
        again = 2
        while own.casefold() in taken:
            own, again = f"{plain} ({again})", again + 1
        taken.add(own.casefold())
        found.append(own)
    return tuple(found)


def _at(cells: Sequence[str], place: int) -> str:
    return cells[place] if place < len(cells) else ""


def _last(cells: Sequence[str]) -> int:
    return max((place for place, cell in enumerate(cells) if cell), default=-1)
