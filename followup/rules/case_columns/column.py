"""What one column of a file of cases is."""

from dataclasses import dataclass, replace
from enum import StrEnum


class Kind(StrEnum):
    """How a cell is read."""

    IDENTIFIER = "text that is never missing"
    NAME = "text as written"
    TEXT = "text"
    CODE = "one of the codes"
    LISTED = "a code of this service"
    DAY = "date"
    PARTIAL_DAY = "date, month or year"
    COUNT = "whole number"
    TENTH = "number, kept to 0.1"
    SCORE = "number"


@dataclass(frozen=True)
class Column:
    """One column: what it means, what it may hold, and where its value goes.

    `group` is the thing that the value belongs to, `field` its field there. A column that `needs`
    another is of no use without it. `documented` is the name under which repeated columns share one
    line of the documentation. `examples` fill the two invented rows of the template.
    """

    name: str
    group: str
    field: str
    kind: Kind
    meaning: str
    unit: str = ""
    allowed: tuple[str, ...] = ()
    required: bool = False
    needs: str = ""
    longest: int = 0
    documented: str = ""
    examples: tuple[str, str] = ("", "")


def text(name: str, group: str, field: str, meaning: str, longest: int) -> Column:
    """Return a column of free text, at most so many letters long."""
    return Column(name, group, field, Kind.TEXT, meaning, longest=longest)


def code(name: str, group: str, meaning: str, *allowed: str, field: str = "") -> Column:
    """Return a column that holds one of the given codes."""
    return Column(name, group, field or name, Kind.CODE, meaning, allowed=allowed)


def count(name: str, group: str, meaning: str, unit: str = "") -> Column:
    """Return a column of whole numbers."""
    return Column(name, group, name, Kind.COUNT, meaning, unit=unit)


def tenth(name: str, group: str, meaning: str, unit: str, field: str = "") -> Column:
    """Return a column of numbers that are kept to one decimal."""
    return Column(name, group, field or name, Kind.TENTH, meaning, unit=unit)


def required(*columns: Column) -> tuple[Column, ...]:
    """Return the columns as ones without which a row cannot be used."""
    return tuple(replace(column, required=True) for column in columns)
