"""Which column of a strange file is which of our fields: a proposal, for a person to confirm."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from followup.rules import value_words
from followup.rules.case_columns.catalogue import BY_NAME
from followup.rules.case_columns.column import Column, Kind
from followup.rules.column_survey import Held
from followup.rules.column_words import FAMILY_FIRST, GIVEN_FIRST, phrases
from registry.rules.matching import PLAIN_LETTERS, plain

# A name that shares less than this with every phrase of a field is not taken for it.
ALIKE = 0.75
# Of the values of a column, the share that must be of the field's kind.
FITS = 0.5
SPLIT = re.compile(r"[^0-9a-z]+|(?<=[a-z])(?=\d)|(?<=\d)(?=[a-z])")
FILLERS = frozenset(
    [
        "of",
        "the",
        "in",
        "at",
        "on",
        "and",
        "a",
        "mm",
        "deg",
        "degrees",
        "grad",
        "kg",
        "m2",
        "yyyy",
        "dd",
    ]
)
NUMERIC = (Kind.COUNT, Kind.TENTH, Kind.SCORE)
DATED = (Kind.DAY, Kind.PARTIAL_DAY)


@dataclass(frozen=True)
class Proposal:
    """The field proposed for a column ('' for none), and why in words."""

    header: str
    column: str
    why: str


def propose(
    headers: Sequence[str], survey: Sequence[Held], listed: Mapping[str, Sequence[str]]
) -> list[Proposal]:
    """Propose a field for each column: by its name first, held against what it holds.

    A field is proposed once, for the column whose name is nearest. `listed` are the codes of the
    service, by field.
    """
    scored = sorted(
        (
            (score, place, name)
            for place, header in enumerate(headers)
            for name, score in _named_alike(header).items()
            if score >= ALIKE and _fits(name, survey[place], listed)
        ),
        key=lambda one: (-one[0], one[1]),
    )
    taken: dict[int, tuple[str, float]] = {}
    used: set[str] = set()
    for score, place, name in scored:
        if place in taken or used & _gives(name):
            continue
        taken[place] = name, score
        used |= _gives(name)
    return [
        Proposal(header, *_said(header, taken.get(place), survey[place]))
        for place, header in enumerate(headers)
    ]


def tokens(name: str) -> tuple[str, ...]:
    """Return the words of a column's name, plain and lower-case, numbers apart, fillers left out."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name.replace("%", " percent "))
    folded = "".join(
        plain(letter) or " " if ord(letter) > 127 else letter
        for letter in _umlauts(spaced.casefold()).translate(PLAIN_LETTERS)
    )
    return tuple(word for word in SPLIT.split(folded) if word and word not in FILLERS)


def _umlauts(text: str) -> str:
    return text.translate({0xE4: "ae", 0xF6: "oe", 0xFC: "ue", 0xDF: "ss"})


@cache
def _phrases() -> dict[str, tuple[tuple[str, ...], ...]]:
    return {
        name: tuple(dict.fromkeys(tokens(phrase) for phrase in ways))
        for name, ways in phrases().items()
    }


def _named_alike(header: str) -> dict[str, float]:
    """Return how far a name is like each field: 1 for the same words, whatever their order."""
    exact = header.strip().casefold()
    if exact in BY_NAME:
        return {exact: 2.0}
    words = tokens(header)
    if not words:
        return {}
    return {
        name: max((_alike(words, phrase) for phrase in ways), default=0.0)
        for name, ways in _phrases().items()
    }


def _alike(one: tuple[str, ...], other: tuple[str, ...]) -> float:
    if one == other:
        return 1.0
    if "".join(one) == "".join(other):
        return 0.98
    shared = len(set(one) & set(other))
    if not shared or {word for word in one if word.isdigit()} != {
        word for word in other if word.isdigit()
    }:
        return 0.0
    return 0.97 * 2 * shared / (len(set(one)) + len(set(other)))


def _gives(name: str) -> set[str]:
    return {"family_name", "given_name"} if name in (FAMILY_FIRST, GIVEN_FIRST) else {name}


def _fits(name: str, held: Held, listed: Mapping[str, Sequence[str]]) -> bool:
    column = BY_NAME.get(name)
    if name in (FAMILY_FIRST, "family_name") and held.filled and held.examples:
        commas = sum("," in word for word in held.examples) / len(held.examples)
        return (commas >= FITS) == (name == FAMILY_FIRST) and held.date_share < FITS
    if column is None or not held.filled:
        return True
    return _SHAPES.get(column.kind, _anything)(column, held, listed)


def _anything(column: Column, held: Held, listed: Mapping[str, Sequence[str]]) -> bool:
    return True


def _a_name(column: Column, held: Held, listed: Mapping[str, Sequence[str]]) -> bool:
    return held.number_share < FITS and held.date_share < FITS


def _a_day(column: Column, held: Held, listed: Mapping[str, Sequence[str]]) -> bool:
    return held.date_share >= FITS


def _a_number(column: Column, held: Held, listed: Mapping[str, Sequence[str]]) -> bool:
    dates = held.date_share >= FITS and held.days.triples > 0
    return not dates and _numbers_among(held) >= FITS


def _numbers_among(held: Held) -> float:
    """Which share of the values begin with a digit: a unit after a number is taken off later."""
    if held.many or not held.words:
        return max(held.number_share, 1.0 if held.many and not held.number_share else 0.0)
    digits = sum(count for word, count in held.words.items() if word[0] in "0123456789+-")
    said = sum(count for word, count in held.words.items() if value_words.is_missing(word))
    return (digits + said) / held.filled


def _a_code(column: Column, held: Held, listed: Mapping[str, Sequence[str]]) -> bool:
    if held.many or held.date_share >= FITS:
        return False
    if column.kind == Kind.LISTED:
        return held.number_share < FITS
    known = sum(
        count
        for word, count in held.words.items()
        if value_words.propose(column, word, listed.get(column.name, ())) is not None
    )
    return known / held.filled >= FITS or len(held.words) <= len(column.allowed) + 3


_SHAPES: dict[Kind, Callable[[Column, Held, Mapping[str, Sequence[str]]], bool]] = {
    Kind.NAME: _a_name,
    Kind.DAY: _a_day,
    Kind.PARTIAL_DAY: _a_day,
    Kind.COUNT: _a_number,
    Kind.TENTH: _a_number,
    Kind.SCORE: _a_number,
    Kind.CODE: _a_code,
    Kind.LISTED: _a_code,
}


def _said(header: str, taken: tuple[str, float] | None, held: Held) -> tuple[str, str]:
    if taken is None:
        return "", "empty" if not held.filled else "no field of ours has a name like this"
    name, score = taken
    if score > 1:
        return name, "our own name"
    return name, "the same words" if score >= 0.98 else "a similar name"
