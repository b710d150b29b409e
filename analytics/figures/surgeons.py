"""A section for whoever may not see surgeons: without what shows them, and with a word about it."""

from collections.abc import Iterable
from dataclasses import replace

from analytics.figures.sections import Section

NOTE = (
    "Surgeons are shown in this pack only to those who may see all of them, and to whoever asked for it; each "
    "sees the own point on the page 'Is anything drifting?'."
)


def shows_surgeons(sections: Iterable[Section]) -> bool:
    """Say whether anything in some sections shows surgeons."""
    return any(
        any(table.surgeons for table in (*section.tables, *section.beside))
        or any(figure.surgeons for figure in section.figures)
        for section in sections
    )


def without_surgeons(section: Section) -> Section:
    """Return a section with everything left out that shows surgeons, and said so."""
    if not shows_surgeons([section]):
        return section
    return replace(
        section,
        tables=tuple(table for table in section.tables if not table.surgeons),
        figures=tuple(figure for figure in section.figures if not figure.surgeons),
        beside=tuple(table for table in section.beside if not table.surgeons),
        notes=(*section.notes, NOTE),
    )
