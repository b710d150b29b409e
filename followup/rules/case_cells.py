"""Reading one cell of a file of cases: its value, in which way it is missing, or what is wrong."""

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from followup.rules.case_columns.column import Column, Kind
from followup.rules.scores import catalogue
from registry.rules import dates, missing, plausibility, units

WHOLE = re.compile(r"^[+-]?\d{1,9}(?:[.,]0+)?$")
# A comma before one or two digits is a decimal comma; before three it could be thousands.
NUMBER = re.compile(r"^[+-]?\d{1,9}(?:\.\d{1,9}|,\d{1,2})?$")
TRUTH = {"true": "yes", "false": "no"}
SHOWN = 12


@dataclass(frozen=True)
class Cell:
    """What a cell says: a value, the kind of missing, what is doubtful, or what is wrong."""

    value: Any = None
    missing: str = ""
    doubt: str = ""
    fault: str = ""


@dataclass(frozen=True)
class Reading:
    """How cells are read: whether days come first, and the codes known to the service by column."""

    day_first: bool
    listed: Mapping[str, Collection[str]]


def read(column: Column, written: str, how: Reading) -> Cell:
    """Read one cell; an empty one is neither a value nor missing with a kind."""
    text = written.replace("\xa0", " ").strip()
    if not text:
        return Cell(fault="must be given") if column.required else Cell()
    kind = missing.kind_of(text)
    if kind is not None and column.kind != Kind.NAME and kind not in column.allowed:
        if column.required:
            return Cell(fault=f"'{text}' cannot be used: it must be known")
        return Cell(missing=kind)
    try:
        value = _READERS[column.kind](column, text, how)
    except ValueError as fault:
        return Cell(fault=str(fault))
    return _weighed(column, value)


def _weighed(column: Column, value: Any) -> Cell:
    for finding in plausibility.judge({column.field: value}):
        if finding.impossible:
            return Cell(fault=finding.message)
        return Cell(value, doubt=finding.message)
    return Cell(value)


def _text(column: Column, text: str, how: Reading) -> str:
    if not text.isprintable():
        raise ValueError("holds a line break or a sign that cannot be printed")
    if len(text) > column.longest:
        raise ValueError(f"has {len(text)} letters; at most {column.longest} are kept")
    return text


def _code(column: Column, text: str, how: Reading) -> str:
    plain = text.casefold()
    for guess in (plain, plain.replace(" ", "_"), TRUTH.get(plain), missing.kind_of(text)):
        for code in column.allowed:
            if guess == code.casefold():
                return code
    raise ValueError(f"'{text}' is not one of: {', '.join(column.allowed)}")


def _listed(column: Column, text: str, how: Reading) -> str:
    known = how.listed[column.name]
    for code in known:
        if text.casefold() == code.casefold():
            return code
    near = get_close_matches(text, known, SHOWN, cutoff=0.6) or sorted(known)[:SHOWN]
    more = ", ..." if len(near) < len(known) else ""
    choices = f"use one of: {', '.join(near)}{more}" if known else "none is set up yet"
    raise ValueError(f"'{text}' is not known here; {choices}")


def _day(column: Column, text: str, how: Reading) -> date:
    return dates.parse_exact(text, day_first=how.day_first)


def _partial_day(column: Column, text: str, how: Reading) -> dates.Bounds:
    return dates.parse(text, day_first=how.day_first)


def _count(column: Column, text: str, how: Reading) -> int:
    if not WHOLE.match(text):
        raise ValueError(f"'{text}' is not a whole number; write digits only, without a unit")
    return int(re.split("[.,]", text)[0])


def _number(text: str) -> Decimal:
    if not NUMBER.match(text):
        raise ValueError(
            f"'{text}' is not a number; write digits and a decimal point, without a unit"
        )
    return Decimal(text.replace(",", "."))


def _tenth(column: Column, text: str, how: Reading) -> Decimal:
    return units.to_tenth(_number(text))


def _score(column: Column, text: str, how: Reading) -> float:
    result = catalogue.total(column.field, float(_number(text)))
    if not result.computable:
        raise ValueError(result.reason)
    return float(_number(text))


_READERS: dict[Kind, Callable[[Column, str, Reading], Any]] = {
    Kind.IDENTIFIER: _text,
    Kind.NAME: _text,
    Kind.TEXT: _text,
    Kind.CODE: _code,
    Kind.LISTED: _listed,
    Kind.DAY: _day,
    Kind.PARTIAL_DAY: _partial_day,
    Kind.COUNT: _count,
    Kind.TENTH: _tenth,
    Kind.SCORE: _score,
}
