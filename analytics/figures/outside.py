"""A section as it may leave the team: its tables with small numbers hidden, and nothing drawn.

A sentence, a note, a figure and a table without a form for outside all carry exact counts, so they stay.
"""

from dataclasses import replace

from analytics.figures.sections import Section, Table, plain_table
from analytics.rules import suppression

SENTENCE = "Small numbers are hidden and all others are rounded; no figure is drawn of them."


def for_outside(section: Section) -> Section | None:
    """Return a section for outside the team; None where nothing of it may leave."""
    tables = tuple(
        _hidden(table) for table in section.tables if table.shape is not None and table.data
    )
    if not tables:
        return None
    return Section(section.key, section.title, SENTENCE, tables)


def _hidden(table: Table) -> Table:
    if table.shape is None:
        raise ValueError("a table without a shape has no form for outside")
    rows = suppression.table(table.data, table.shape)
    columns = {name: name.replace("_", " ").capitalize() for name in rows[0]}
    made = plain_table(table.name, table.outside, columns, rows)
    counted = range(len(table.shape.words), len(columns))
    # A code is printed as words, so that it can be broken between them.
    spoken = tuple(tuple(cell.replace("_", " ") for cell in row) for row in made.rows)
    wide = (2.4, *(1.0 for _ in list(columns)[1:]))
    return replace(made, rows=spoken, numbers=tuple(counted), widths=wide)
