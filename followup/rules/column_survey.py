"""What the columns of a strange file hold, seen in one pass that keeps a bounded part of it."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from registry.rules.date_styles import DateTally

# A column with more different values than this is no column of codes.
MOST_WORDS = 150
KEPT_EXAMPLES = 5
# A word that is longer is known by its beginning and the digits of a hash, which keep it apart; of one
# that is longer still nothing more is looked at.
LONGEST_KEY, LONGEST_WORD, DIGITS = 60, 300, 8
SPACES = re.compile(r"[\s\xa0\u200b\ufeff]+")
WHOLE = re.compile(r"^[+-]?\d+(?:[.,]0+)?$")
POINT = re.compile(r"^[+-]?\d+\.\d+$")
COMMA = re.compile(r"^[+-]?\d+,\d+$")
THREE = re.compile(r"^[+-]?\d{1,3}[.,]\d{3}$")


@dataclass
class NumberTally:
    """How the numbers of a column are written: with which decimal sign, and with an example."""

    whole: int = 0
    point: int = 0
    comma: int = 0
    # Three digits after the only sign: thousands or thousandths.
    unclear: str = ""

    def note(self, text: str) -> None:
        """Look at one value that is not empty."""
        if WHOLE.match(text) and not THREE.match(text):
            self.whole += 1
        elif POINT.match(text) or COMMA.match(text):
            self.point += "." in text
            self.comma += "," in text
            if THREE.match(text):
                self.unclear = self.unclear or text


@dataclass
class Held:
    """What one column holds: how many values, the different ones while they are few, their kinds."""

    filled: int = 0
    words: dict[str, int] = field(default_factory=dict)
    many: bool = False
    days: DateTally = field(default_factory=DateTally)
    numbers: NumberTally = field(default_factory=NumberTally)

    def note(self, written: str) -> None:
        """Look at one cell."""
        text = plain_spaces(written)
        if not text:
            return
        self.filled += 1
        if any(letter.isdigit() for letter in text):
            self.days.note(text)
            self.numbers.note(text)
        else:
            self.days.note_other(text)
        if self.many:
            return
        word = text[:LONGEST_WORD]
        self.words[word] = self.words.get(word, 0) + 1
        if len(self.words) > MOST_WORDS:
            self.many = True
            self.words = dict.fromkeys(list(self.words)[:KEPT_EXAMPLES], 0)

    @property
    def examples(self) -> tuple[str, ...]:
        """The first few different values."""
        return tuple(word[:LONGEST_KEY] for word in list(self.words)[:KEPT_EXAMPLES])

    @property
    def number_share(self) -> float:
        """Which share of the values are numbers."""
        found = self.numbers
        return (found.whole + found.point + found.comma) / self.filled if self.filled else 0.0

    @property
    def date_share(self) -> float:
        """Which share of the values look like dates."""
        return self.days.dates / self.filled if self.filled else 0.0


def plain_spaces(written: str) -> str:
    """Return what a cell says with single blanks in it and none around."""
    return SPACES.sub(" ", written).strip()


def word_key(written: str) -> str:
    """Return by what a word is asked about, remembered and looked up; its own key is itself."""
    folded = plain_spaces(written)[:LONGEST_WORD].casefold()
    if len(folded) <= LONGEST_KEY:
        return folded
    digits = hashlib.sha256(folded.encode()).hexdigest()[:DIGITS]
    return f"{folded[: LONGEST_KEY - DIGITS - 1]}\u2026{digits}"


def survey_of(width: int) -> list[Held]:
    """Return an empty survey of so many columns."""
    return [Held() for _ in range(width)]


def note_row(survey: Sequence[Held], cells: Sequence[str]) -> None:
    """Look at one row; cells beyond the header are not a column's."""
    for held, cell in zip(survey, cells, strict=False):
        held.note(cell)


def to_plain(survey: Sequence[Held]) -> list[dict[str, Any]]:
    """Return a survey as what JSON can keep."""
    return [asdict(held) for held in survey]


def from_plain(kept: Sequence[Mapping[str, Any]]) -> list[Held]:
    """Return a survey from what was kept of it."""
    return [
        Held(
            filled=one["filled"],
            words=dict(one["words"]),
            many=one["many"],
            days=DateTally(**one["days"]),
            numbers=NumberTally(**one["numbers"]),
        )
        for one in kept
    ]
