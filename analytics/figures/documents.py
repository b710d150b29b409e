"""A whole pack as a document: head, facts, sections, appendix and cautions, each said once."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from analytics.figures.methods import appendix
from analytics.figures.sections import Section, Table
from analytics.figures.svg import Drawing
from analytics.rules import suppression

CAUTIONS = (
    (
        "Observational: no difference here is a treatment effect. Groups differ in more than their "
        "construct."
    ),
    (
        "Loss of reduction depends on the definition, the view and the calibration of a film. On a film "
        "without calibration only ratios count; a change smaller than a reader's error is not a finding."
    ),
    "Small numbers: read the interval, not the rate. Nobody is ranked.",
    "Published rates stand beside ours for orientation. They are not targets.",
    "Holdfast records and prompts. It diagnoses and treats nobody.",
)


@dataclass(frozen=True)
class Document:
    """What is printed and shown; `facts` reproduce it."""

    title: str
    sites: str
    head: str
    cutoff: date
    facts: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]
    cautions: tuple[str, ...] = CAUTIONS
    outside: str = ""
    codes: str = ""

    @property
    def drawings(self) -> dict[str, Drawing]:
        """The drawings by the names that `plain` calls them by."""
        return {
            f"{section.key}-{number}": figure.drawing
            for section in self.sections
            for number, figure in enumerate(section.figures, start=1)
        }


def document(
    *,
    title: str,
    sites: Sequence[str],
    cohort: str,
    cutoff: date,
    facts: Mapping[str, Any],
    sections: Sequence[Section],
    outside: bool = False,
    codes: Mapping[str, str] | None = None,
) -> Document:
    """Put sections together with their appendix; the running head has cohort and cut-off.

    `codes` are the names of what tables and figures name by a code.
    """
    suppressed = f"For outside: {suppression.RULE}."
    return Document(
        title=title,
        sites=", ".join(sites),
        head=f"{cohort[:1].upper()}{cohort[1:]}; data up to {cutoff:%d %b %Y}",
        cutoff=cutoff,
        facts=tuple((name.replace("_", " "), str(value)) for name, value in facts.items()),
        sections=(*sections, *_appendix(sections)),
        outside=suppressed if outside else "",
        codes="; ".join(f"{code}: {name}" for code, name in sorted((codes or {}).items())),
    )


def _appendix(sections: Sequence[Section]) -> tuple[Section, ...]:
    return (appendix(sections),) if any(section.methods for section in sections) else ()


def plain(made: Document) -> dict[str, Any]:
    """Return a document as JSON values: what the page shows, and the printed one but its drawings."""
    return {
        "title": made.title,
        "sites": made.sites,
        "head": made.head,
        "cutoff": f"{made.cutoff:%d %b %Y}",
        "facts": [list(fact) for fact in made.facts],
        "cautions": list(made.cautions),
        "outside": made.outside,
        "codes": made.codes,
        "sections": [_section(section) for section in made.sections],
    }


def _section(section: Section) -> dict[str, Any]:
    figures = [
        {
            "name": f"{section.key}-{number}",
            "caption": figure.caption,
            "drawing": _drawing(figure.drawing),
        }
        for number, figure in enumerate(section.figures, start=1)
    ]
    tables = [_table(table) for table in section.tables]
    if section.paired:
        for figure, table in zip(figures, tables, strict=True):
            figure["table"] = table
    return {
        "key": section.key,
        "title": section.title,
        "sentence": section.sentence,
        "notes": list(section.notes),
        "paired": section.paired,
        "tables": tables,
        "figures": figures,
    }


def _drawing(drawing: Drawing) -> dict[str, Any]:
    values = asdict(drawing)
    return {**values, "shapes": list(values["shapes"])}


def _table(table: Table) -> dict[str, Any]:
    return {
        "caption": table.caption,
        "widths": list(table.widths),
        "columns": [
            {"word": word, "number": place in table.numbers}
            for place, word in enumerate(table.head)
        ],
        "rows": [list(row) for row in table.rows],
        "cells": [
            [
                {"text": text, "word": word, "number": place in table.numbers}
                for place, (text, word) in enumerate(zip(row, table.head, strict=True))
            ]
            for row in table.rows
        ],
    }
