"""What a section of a printed answer is made of: a sentence, tables, figures, and what they rest on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from analytics.figures.svg import Drawing
from analytics.rules.suppression import Shape

Cells = tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table as printed, and the same as plain rows for the file beside it.

    `numbers` are the places of the columns that stand to the right. `widths` are the columns' shares
    of the page, where they are not to follow from what is in them. `name` is that of the file; a
    table without one has no file. `shape` says what of it may leave the team, and `outside` is its
    caption there, which names no exact count; a table without a shape stays. With `surgeons` it is
    for those alone who may see surgeons.
    """

    caption: str
    head: Cells
    rows: tuple[Cells, ...]
    numbers: tuple[int, ...] = ()
    name: str = ""
    widths: tuple[float, ...] = ()
    data: tuple[Mapping[str, Any], ...] = ()
    shape: Shape | None = None
    outside: str = ""
    surgeons: bool = False


@dataclass(frozen=True)
class Figure:
    """A drawing with a caption that says how it was made; `surgeons` as of a table."""

    caption: str
    drawing: Drawing
    surgeons: bool = False


@dataclass(frozen=True)
class Section:
    """One question with its answer; `methods` names what the appendix has to explain.

    Where figures and tables are `paired`, each table belongs to the figure of its place. What stands
    `beside` is not printed: these tables are files of the archive alone.
    """

    key: str
    title: str
    sentence: str
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()
    notes: tuple[str, ...] = ()
    methods: tuple[str, ...] = ()
    paired: bool = False
    beside: tuple[Table, ...] = ()


@dataclass(frozen=True)
class About:
    """What every caption names: the cohort in words, the cut-off, and what groups are."""

    cohort: str
    cutoff: date
    by: str = "construct type"

    def caption(self, what: str, method: str, definition: str = "") -> str:
        """Write a caption: what is shown, by which method, definition, cohort and cut-off."""
        parts = [f"{what.rstrip('.')}.", f"{method.rstrip('.')}." if method else ""]
        parts.append(f"Definition: {definition}." if definition else "")
        parts.append(f"Cohort: {self.cohort}. Data up to {self.cutoff:%d %b %Y}.")
        return " ".join(part for part in parts if part)


def file_table(name: str, caption: str, rows: Iterable[Mapping[str, Any]]) -> Table:
    """Return a table that is a file alone: its rows as they are, under their own names."""
    return Table(caption, (), (), name=name, data=tuple(rows))


def plain_table(
    name: str, caption: str, columns: Mapping[str, str], rows: Iterable[Mapping[str, Any]]
) -> Table:
    """Return a table of plain values under printed headings; numbers stand to the right."""
    kept = tuple(rows)
    cells = tuple(tuple(written(row.get(column)) for column in columns) for row in kept)
    numbers = tuple(
        place
        for place, column in enumerate(columns)
        if kept and all(isinstance(row.get(column), int | float | None) for row in kept)
    )
    return Table(caption, tuple(columns.values()), cells, numbers, name, data=kept)


def written(value: Any) -> str:
    """Write a value as a cell shows it: nothing for what is missing, no more digits than help."""
    if value is None or value == "":
        return ""
    if isinstance(value, float):
        return f"{value:.3g}"
    if isinstance(value, date):
        return f"{value:%d %b %Y}"
    return str(value)
