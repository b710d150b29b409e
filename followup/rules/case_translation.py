"""A strange file's rows in our own columns and codes, by what was settled about it."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from followup.rules.case_columns.catalogue import BY_NAME, COLUMNS
from followup.rules.case_columns.column import Column, Kind
from followup.rules.case_facts import RowFault
from followup.rules.column_survey import plain_spaces, word_key
from followup.rules.column_words import FAMILY_FIRST, GIVEN_FIRST
from followup.rules.value_words import vocabulary
from registry.rules import date_styles, dates, missing
from registry.rules.date_styles import DateStyle

LEFT_OUT = ""
# What a word can mean besides a code: nothing at all, or that its rows are not to be used.
EMPTY, REFUSE = "", "!"
NAMES = {
    FAMILY_FIRST: "whole name, family name first",
    GIVEN_FIRST: "whole name, given name first",
}
NAME_PARTS = ("family_name", "given_name")
DATED = (Kind.DAY, Kind.PARTIAL_DAY)
NUMBERS = (Kind.COUNT, Kind.TENTH, Kind.SCORE)
CODED = (Kind.CODE, Kind.LISTED)
COMMA, THOUSANDS = "comma", "thousands"
DECIMALS = ("", COMMA, THOUSANDS)
# A unit written behind a number, where it is the one that the column is in.
UNITS = {
    "mm": "mm",
    "degrees": "\u00b0|deg|degrees|grad",
    "minutes": "min|minutes|minuten|mins",
    "%": "%|percent|prozent",
    "kg/m2": "kg/m2|kg/m\u00b2",
    "holes": "holes|hole|loch",
}
UNSAID = DateStyle()
# Those alone that are no plain words.
OUR_NAMES = re.compile(r"\b(?:" + "|".join(name for name in BY_NAME if "_" in name) + r")\b")


@dataclass(frozen=True)
class ColumnUse:
    """What one column of a file is used for: our field ('' where it is left out), and how it is read.

    `decimal` says what a comma in its numbers is, where that is not plain.
    """

    header: str
    column: str
    dates: DateStyle = UNSAID
    decimal: str = ""


@dataclass(frozen=True)
class Translation:
    """What was settled about a file: each column's use, values that hold for every row, its words.

    `words` lead from a vocabulary and the key of a word to our code, '' to leave it empty, or
    '!' to refuse its rows.
    """

    uses: tuple[ColumnUse, ...]
    same_for_all: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @cached_property
    def header_of(self) -> dict[str, str]:
        """Our fields, and under which name the file has each."""
        found = {}
        for use in self.uses:
            for name in NAME_PARTS if use.column in NAMES else (use.column,):
                found[name] = use.header
        return found

    @property
    def has_our_names(self) -> bool:
        """Whether every column that is imported is called as we call it."""
        return all(use.header.strip().casefold() == use.column for use in self.used())

    @property
    def left_out(self) -> tuple[str, ...]:
        """The names of the columns that are not imported."""
        return tuple(use.header for use in self.uses if not use.column)

    def used(self) -> tuple[ColumnUse, ...]:
        """Return the uses of the columns that are imported."""
        return tuple(use for use in self.uses if use.column)


def own(headers: Sequence[str], style: DateStyle = UNSAID) -> Translation:
    """Return the translation of a file that has our own columns, each under its own name."""
    known = ((name, name.strip().casefold()) for name in headers)
    return Translation(
        tuple(
            ColumnUse(name, plain if plain in BY_NAME else LEFT_OUT, dates=style)
            for name, plain in known
        )
    )


def faults(found: Translation) -> list[str]:
    """Say what is wrong with what was settled, as a whole; an empty list when nothing is."""
    said = []
    given: dict[str, str] = {}
    for use in found.used():
        if use.column not in BY_NAME and use.column not in NAMES:
            said.append(f"'{use.column}' is no field of ours ({use.header}).")
            continue
        for name in NAME_PARTS if use.column in NAMES else (use.column,):
            if name in given:
                said.append(
                    f"{name} is given by two columns, '{given[name]}' and '{use.header}'; keep one."
                )
            given[name] = use.header
    said += [
        f"{name} is given by '{given[name]}' and for all rows; keep one."
        for name in found.same_for_all
        if name in given
    ]
    lacking = [
        called(column.name)
        for column in COLUMNS
        if column.required and column.name not in given and not found.same_for_all.get(column.name)
    ]
    if lacking:
        said.append(f"No column gives {', '.join(lacking)}; a case needs them.")
    return said


def translate(
    line: int, cells: Mapping[str, str], how: Translation
) -> tuple[dict[str, str], list[RowFault]]:
    """Return a row in our own columns, dates year first and codes ours, and what could not be read.

    `cells` are the row's values by the file's own names of columns, in small letters.
    """
    written = dict(how.same_for_all)
    wrong = []
    for use in how.used():
        text = plain_spaces(cells.get(use.header.casefold(), ""))
        if use.column in NAMES:
            written |= _names(text, use.column)
            continue
        column = BY_NAME[use.column]
        try:
            written[use.column] = _read(column, text, use, how) if text else ""
        except ValueError as fault:
            wrong.append(RowFault(line, use.column, text, str(fault)))
            written[use.column] = text
    return written, wrong


def in_the_files_words(
    found: Sequence[RowFault], cells: Mapping[str, str], how: Translation
) -> list[RowFault]:
    """Return faults that name the file's own columns and show what stands there.

    A field of ours that is in no column of the file is told by what it means.
    """
    return [_in_the_files_words(fault, cells, how) for fault in found]


def _in_the_files_words(fault: RowFault, cells: Mapping[str, str], how: Translation) -> RowFault:
    column, value, reason = fault.column, fault.value, fault.reason
    header = how.header_of.get(column)
    if header is not None:
        column, value = header, cells.get(header.casefold(), "")
    elif not how.has_our_names:
        column = called(column)
    if not how.has_our_names:
        reason = OUR_NAMES.sub(lambda one: _known_as(one.group(), how), reason)
    return replace(fault, column=column, value=value, reason=reason)


def called(name: str) -> str:
    """Return what a field of ours is, in words, with its name; anything else as it is."""
    column = BY_NAME.get(name)
    return f"{column.meaning} ({name})" if column is not None else name


def _known_as(name: str, how: Translation) -> str:
    header = how.header_of.get(name)
    return called(name) if header is None else f"'{header}'"


def _names(text: str, way: str) -> dict[str, str]:
    if "," in text:
        family, _, given = text.partition(",")
    elif way == FAMILY_FIRST:
        family, _, given = text.partition(" ")
    else:
        given, _, family = text.rpartition(" ")
    return {"family_name": family.strip(), "given_name": given.strip()}


def _read(column: Column, text: str, use: ColumnUse, how: Translation) -> str:
    if column.kind in CODED:
        code = how.words.get(vocabulary(column), {}).get(word_key(text), text)
        return text if code == REFUSE else code
    if missing.kind_of(text) is not None:
        return text
    if column.kind in DATED:
        return dates.written(date_styles.parse(text, use.dates))
    if column.kind in NUMBERS:
        return _number(column, text, use.decimal)
    return text


def _number(column: Column, text: str, decimal: str) -> str:
    unit = UNITS.get(column.unit)
    if unit:
        text = re.sub(rf"(?<=\d)\s*(?:{unit})\.?$", "", text, flags=re.IGNORECASE)
    if decimal == COMMA:
        return text.replace(".", "").replace(",", ".") if "," in text else text
    return text.replace(",", "") if decimal == THOUSANDS else text
