"""What only a person can say about a strange file: how its days are written, what its words mean."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from followup.rules import case_cells, value_words
from followup.rules.case_columns.catalogue import BY_NAME
from followup.rules.case_columns.column import Column, Kind
from followup.rules.case_translation import (
    CODED,
    DATED,
    EMPTY,
    NUMBERS,
    REFUSE,
    ColumnUse,
    Translation,
)
from followup.rules.column_survey import Held, word_key
from registry.rules import date_styles
from registry.rules.date_styles import DateStyle, Settled

EXAMPLES = 3


@dataclass(frozen=True)
class DayQuestion:
    """One column whose days, or whose numbers with a comma, can be read in more than one way.

    `settled` is what its values say of its days, None for a column of numbers.
    """

    use: ColumnUse
    meaning: str
    examples: tuple[str, ...]
    settled: Settled | None
    unclear_number: str = ""

    def left_open(self, style: DateStyle) -> str:
        """Say what a style does not settle of the column, or cannot be in it; '' when nothing."""
        if self.settled is None:
            return ""
        by_year = date_styles.YEAR_FIRST in self.settled.orders
        if self.settled.asks_order and not style.order:
            what = "of day, month and year" if by_year else "of day and month"
            return f"Say which {what} comes first."
        if style.order == date_styles.YEAR_FIRST and not by_year:
            return "It holds days whose year stands last; say which of day and month comes first."
        if self.settled.asks_years and not style.last_year:
            return "Say in which hundred years the years of two digits lie."
        if self.settled.asks_count and not style.counts_from:
            return "Say from which year the numbers of days are counted."
        return ""


@dataclass(frozen=True)
class WordQuestion:
    """One word of a site in coded columns: how often, what it may mean, what is proposed (or None).

    Where it `was_answered`, what is proposed is what was said.
    """

    vocabulary: str
    meaning: str
    word: str
    count: int
    codes: tuple[str, ...]
    proposal: str | None
    may_be_empty: bool
    was_answered: bool = False

    def can_mean(self, code: str) -> bool:
        """Say whether a code can be the answer."""
        if code == EMPTY:
            return self.may_be_empty
        return code == REFUSE or code in self.codes


def days_asked(
    found: Translation, survey: Mapping[str, Held], counts_from: str
) -> list[DayQuestion]:
    """Return every column of days that is not all year first, and of numbers that are not plain."""
    asked = []
    for use in found.used():
        column, held = BY_NAME.get(use.column), survey[use.header]
        if column is None:
            continue
        if column.kind in DATED:
            settled = date_styles.settle(held.days, counts_from)
            if held.days.triples or settled.asks or held.days.serial:
                shown = held.examples[:EXAMPLES]
                asked.append(DayQuestion(use, column.meaning, shown, settled))
        elif column.kind in NUMBERS and "," in held.numbers.unclear:
            asked.append(
                DayQuestion(use, column.meaning, (), None, unclear_number=held.numbers.unclear)
            )
    return asked


def words_asked(
    found: Translation,
    survey: Mapping[str, Held],
    listed: Mapping[str, Sequence[str]],
    named: Mapping[str, str],
) -> list[WordQuestion]:
    """Return every word of the coded columns that is no code, with what was answered about it before.

    A word that stands in several columns of one vocabulary is asked about once. An answer that is no
    longer possible, as a construct type that was switched off, counts as none.
    """
    asked: dict[tuple[str, str], WordQuestion] = {}
    how = case_cells.Reading(day_first=False, listed=_by_field(listed))
    for use in found.used():
        column = BY_NAME.get(use.column)
        if column is None or column.kind not in CODED:
            continue
        name = value_words.vocabulary(column)
        known = found.words.get(name, {})
        for word, count in survey[use.header].words.items():
            folded = word_key(word)
            if folded not in known and not case_cells.read(column, word, how).fault:
                continue
            before = asked.get((name, folded))
            times = count + (before.count if before else 0)
            question = _question(column, name, word, times, listed, named)
            said = known.get(folded)
            if said is not None and question.can_mean(said):
                question = replace(question, proposal=said, was_answered=True)
            asked[name, folded] = question
    return list(asked.values())


def _question(
    column: Column,
    name: str,
    word: str,
    count: int,
    listed: Mapping[str, Sequence[str]],
    named: Mapping[str, str],
) -> WordQuestion:
    codes = tuple(listed.get(column.name, ())) if column.kind == Kind.LISTED else column.allowed
    return WordQuestion(
        vocabulary=name,
        meaning=column.meaning,
        word=word,
        count=count,
        codes=codes,
        proposal=value_words.propose(column, word, codes, named if name != "surgeon" else {}),
        may_be_empty=not column.required,
    )


def _by_field(listed: Mapping[str, Sequence[str]]) -> dict[str, Collection[str]]:
    return {name: tuple(codes) for name, codes in listed.items()}
