"""A section as it may leave the team: its tables with small numbers hidden, and nothing drawn.

A sentence, a note, a figure and a table without a form for outside all carry exact counts, so they stay.
"""

from collections.abc import Collection
from dataclasses import replace

from analytics.figures.sections import Cells, Section, Table, plain_table
from analytics.rules import suppression

# More columns than this do not fit side by side on a page.
MOST_COLUMNS = 10
SENTENCE = "Small numbers are hidden and all others are rounded; no figure is drawn of them."


def for_outside(section: Section, hide: Collection[str] = ()) -> Section | None:
    """Return a section for outside the team; None where nothing of it may leave.

    `hide` are groups that have to stay hidden for the sake of what left before.
    """
    tables = tuple(
        _hidden(table, hide) for table in section.tables if table.shape is not None and table.data
    )
    if not tables:
        return None
    return Section(section.key, section.title, SENTENCE, tables)


def _hidden(table: Table, hide: Collection[str]) -> Table:
    if table.shape is None:
        raise ValueError("a table without a shape has no form for outside")
    rows = suppression.table(table.data, table.shape, hide)
    # The grades are Roman numbers, so that only a first letter becomes another.
    columns = {name: f"{name[:1].upper()}{name[1:]}".replace("_", " ") for name in rows[0]}
    made = plain_table(table.name, table.outside, columns, rows)
    # A code is printed as words, so that it can be broken between them.
    spoken = tuple(tuple(cell.replace("_", " ") for cell in row) for row in made.rows)
    told = len(table.shape.words)
    if told == 1 and len(columns) > MOST_COLUMNS:
        return _turned(made, spoken)
    wide = (2.4, *(_wide(word) for word in list(columns.values())[1:]))
    return replace(made, rows=spoken, numbers=tuple(range(told, len(columns))), widths=wide)


def _turned(made: Table, rows: tuple[Cells, ...]) -> Table:
    """Print a table of many counts and few groups with a line for each count."""
    first, *others = made.head
    lines = tuple((word, *(row[place] for row in rows)) for place, word in enumerate(others, 1))
    groups = tuple(row[0] for row in rows)
    return replace(
        made,
        head=(first, *groups),
        rows=lines,
        numbers=tuple(range(1, 1 + len(groups))),
        widths=(2.4, *(1.0 for _ in groups)),
    )


def _wide(words: str) -> float:
    """Return the share of the page that a column needs so that its longest word fits."""
    return max(0.8, max(map(len, words.split())) * 0.13)
