"""In which way a column of dates is written: what its values settle, and what a person has to say."""

import re
from dataclasses import dataclass, field
from datetime import date, timedelta

from registry.rules import dates
from registry.rules.dates import Bounds

DAY_FIRST, MONTH_FIRST, YEAR_FIRST = "day_first", "month_first", "year_first"
ORDERS = (DAY_FIRST, MONTH_FIRST, YEAR_FIRST)
IN_WORDS = {
    DAY_FIRST: "day first",
    MONTH_FIRST: "month first",
    YEAR_FIRST: "year first, then month and day",
}
# What a spreadsheet counts its days from; right from March 1900 on, before the 29 February that never was.
COUNTED = {"1900": date(1899, 12, 30), "1904": date(1904, 1, 1)}
MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar jaenner janner",
            "feb february februar",
            "mar march maerz marz mrz",
            "apr april",
            "may mai",
            "jun june juni",
            "jul july juli",
            "aug august",
            "sep sept september",
            "oct october okt oktober",
            "nov november",
            "dec december dez dezember",
        ),
        start=1,
    )
    for name in names.split()
}
TIME = re.compile(r"[ T]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?: ?[AaPp][Mm])?Z?$")
FROM_YEAR = re.compile(r"^(\d{4})(?:[-/.](\d{1,2})(?:[-/.](\d{1,2}))?)?$")
TRIPLE = re.compile(r"^(\d{1,2})\s?[./ -]\s?(\d{1,2})\s?[./ -]\s?(\d{4}|\d{2})$")
MONTH_YEAR = re.compile(r"^(\d{1,2})[./-](\d{4})$")
NAMED = re.compile(r"^(?:(\d{1,2})[. -]+)?([^\W\d]{3,10})\.?[ -]+(?:(\d{1,2}),? +)?(\d{4}|\d{2})$")
SERIAL = re.compile(r"^(\d{5})(?:[.,]\d+)?$")


@dataclass(frozen=True)
class DateStyle:
    """How the dates of a column are to be read; what is empty has not been said.

    `order` is of day and month in 03/04/2025, and of all three in 03/04/25. Two-digit years lie in the hundred years that end with
    `last_year`. `counts_from` says from when bare numbers of days are counted.
    """

    order: str = ""
    last_year: int = 0
    counts_from: str = ""


@dataclass
class DateTally:
    """What was seen in a column, value by value; nothing is kept but counts and an example of each.

    `first_over_12` can be a date, and none with its month first; `second_over_12` none with its day
    first, `not_year_first` none with its year first.
    """

    dates: int = 0
    others: int = 0
    triples: int = 0
    first_over_12: str = ""
    second_over_12: str = ""
    dotted: int = 0
    two_digit_year: str = ""
    serial: str = ""
    ambiguous: str = ""
    other: str = field(default="")
    not_year_first: str = ""

    def note(self, written: str) -> None:
        """Look at one value that is not empty."""
        text = TIME.sub("", written.strip())
        if triple := TRIPLE.match(text):
            self._note_triple(text, triple)
        elif SERIAL.match(text):
            self.serial = self.serial or text
            self.dates += 1
        elif FROM_YEAR.match(text) or MONTH_YEAR.match(text) or _named(text):
            self.dates += 1
            short = NAMED.match(text)
            if short and len(short[4]) == 2:
                self.two_digit_year = self.two_digit_year or text
        else:
            self.note_other(text)

    def note_other(self, text: str) -> None:
        """Count a value that is known to be no date."""
        self.others += 1
        self.other = self.other or text[:40]

    def _note_triple(self, text: str, triple: "re.Match[str]") -> None:
        self.dates += 1
        self.triples += 1
        self.dotted += "." in text
        if len(triple[3]) == 2:
            self.two_digit_year = self.two_digit_year or text
        ways = _ways(triple)
        if not ways:
            return
        if MONTH_FIRST not in ways:
            self.first_over_12 = self.first_over_12 or text
        if DAY_FIRST not in ways:
            self.second_over_12 = self.second_over_12 or text
        if YEAR_FIRST not in ways:
            self.not_year_first = self.not_year_first or text
        if {DAY_FIRST, MONTH_FIRST} <= ways.keys() and ways[DAY_FIRST] != ways[MONTH_FIRST]:
            self.ambiguous = self.ambiguous or text

    @property
    def against(self) -> dict[str, str]:
        """A value that cannot be read in each order, '' where all of them can."""
        return {
            DAY_FIRST: self.second_over_12,
            MONTH_FIRST: self.first_over_12,
            YEAR_FIRST: self.not_year_first,
        }

    @property
    def possible(self) -> tuple[str, ...]:
        """The orders in which every value can be read."""
        return tuple(order for order, value in self.against.items() if not value)

    @property
    def needs_order(self) -> bool:
        """Whether a value means different days in different orders, or can be read in one alone."""
        alike = self.possible == (DAY_FIRST, MONTH_FIRST) and not self.ambiguous
        return bool(self.triples) and not alike


@dataclass(frozen=True)
class Settled:
    """What a column's values settle of its style, why in words, and what has to be asked."""

    style: DateStyle
    why: str
    asks_order: bool
    asks_years: bool
    asks_count: bool
    orders: tuple[str, ...] = ORDERS

    @property
    def asks(self) -> bool:
        """Whether a person has to say something."""
        return self.asks_order or self.asks_years or self.asks_count


def settle(seen: DateTally, counts_from: str = "") -> Settled:
    """Say what the values of a column settle; `counts_from` is what a workbook says of itself.

    An order is settled by a value that can be read in one way only; where there is none, or where two
    values contradict each other, it is asked, and never guessed. Values that mean the same day in every
    order that they can have settle nothing.
    """
    order, why = _order(seen)
    asks_count = bool(seen.serial) and not counts_from
    if seen.serial:
        since = f"counted from {counts_from}" if counts_from else "counted from 1900 or 1904"
        why = f"{why} {seen.serial} is a number of days, {since}.".strip()
    if seen.two_digit_year:
        why = f"{why} {seen.two_digit_year} has a year of two digits.".strip()
    return Settled(
        style=DateStyle(order=order, counts_from=counts_from if seen.serial else ""),
        why=why or "Year, month, day: read in one way only.",
        asks_order=seen.needs_order and not order,
        asks_years=bool(seen.two_digit_year),
        asks_count=asks_count,
        orders=(DAY_FIRST, MONTH_FIRST) if seen.not_year_first else ORDERS,
    )


def fits(style: DateStyle, seen: DateTally, counts_from: str = "") -> bool:
    """Say whether a style that was settled for other values can hold for these as well.

    Where no value of them can be read in it and one cannot, it does not; nor where it does not say
    what these values need to be read.
    """
    against = seen.triples and style.order and style.order not in seen.possible
    if against and not any(_only(value) == style.order for value in seen.against.values()):
        return False
    if (seen.needs_order and not style.order) or (seen.two_digit_year and not style.last_year):
        return False
    return not seen.serial or (bool(style.counts_from) and counts_from in ("", style.counts_from))


def _order(seen: DateTally) -> tuple[str, str]:
    if not seen.triples:
        return "", ""
    if len(seen.possible) == 1:
        return seen.possible[0], _why(seen, seen.possible[0])
    if not seen.possible:
        said = (f"{value} cannot be {IN_WORDS[order]}" for order, value in seen.against.items())
        return "", f"{', '.join(said)}: one of them is wrong."
    if not seen.needs_order:
        return "", "Day and month are the same number in every value."
    shown = seen.ambiguous or next(filter(None, seen.against.values()), seen.two_digit_year)
    hint = " Dates with points are mostly day first." if seen.dotted == seen.triples else ""
    return "", f"{shown} can be read in more than one way, and no value settles which.{hint}"


def _why(seen: DateTally, order: str) -> str:
    """Name the value that leaves one order alone, or the values that leave it together."""
    against = {other: value for other, value in seen.against.items() if value}
    for value in against.values():
        if _only(value) == order:
            return f"{value} can only be {IN_WORDS[order]}."
    said = (f"{value} cannot be {IN_WORDS[other]}" for other, value in against.items())
    return f"{', '.join(said)}."


def _ways(triple: "re.Match[str]") -> dict[str, tuple[str, int, int]]:
    """Return (year, month, day) in each order in which three numbers can be a date."""
    first, second, third = triple[1], triple[2], triple[3]
    found = {
        DAY_FIRST: (third, int(second), int(first)),
        MONTH_FIRST: (third, int(first), int(second)),
    }
    if len(first) == len(third) == 2:
        found[YEAR_FIRST] = (first, int(second), int(third))
    return {
        order: (year, month, day)
        for order, (year, month, day) in found.items()
        if 1 <= month <= 12 and 1 <= day <= 31
    }


def _only(text: str) -> str:
    """Return the one order in which a value can be read; '' where there are several."""
    triple = TRIPLE.match(text)
    ways = tuple(_ways(triple)) if triple else ()
    return ways[0] if len(ways) == 1 else ""


def parse(written: str, style: DateStyle) -> Bounds:
    """Read a date in a style; a time of day after it is left out.

    Raises ValueError for what is no date, or would need an order, a century or a year of counting
    that the style does not say.
    """
    text = TIME.sub("", " ".join(written.split()))
    if whole := FROM_YEAR.match(text):
        return dates.parse("-".join(part for part in whole.groups() if part))
    if triple := TRIPLE.match(text):
        return _triple(text, triple, style)
    if month := MONTH_YEAR.match(text):
        return dates.parse(f"{month[2]}-{month[1]}")
    if named := _named(text):
        return _with_name(text, named, style)
    if serial := SERIAL.match(text):
        return _counted(text, int(serial[1]), style)
    raise ValueError(f"'{text[:40]}' is not a date; write year-month-day, for example 2024-03-05")


def _triple(text: str, triple: "re.Match[str]", style: DateStyle) -> Bounds:
    ways = _ways(triple)
    order = style.order
    if not order and len(ways) > 1 and len(set(ways.values())) == 1:
        # The same day in whichever order.
        order = DAY_FIRST
    if not order:
        raise ValueError(
            f"'{text}' can be read in two ways; write year-month-day, 2024-03-05, or say which of "
            "day and month comes first"
        )
    digits, month, day = triple[3], int(triple[1]), int(triple[2])
    if order == YEAR_FIRST:
        if len(digits) == 4 or len(triple[1]) == 1:
            raise ValueError(f"'{text}' has its year last; the column is {IN_WORDS[order]}")
        digits, month, day = triple[1], int(triple[2]), int(digits)
    elif order == DAY_FIRST:
        month, day = day, month
    year = _year(text, digits, style)
    if month > 12:
        raise ValueError(f"'{text}' has no month {month}; the column is {IN_WORDS[order]}")
    return dates.parse(f"{year}-{month}-{day}")


def _year(text: str, digits: str, style: DateStyle) -> int:
    if len(digits) == 4:
        return int(digits)
    if not style.last_year:
        raise ValueError(f"'{text}' has a year of two digits; write four, or say which hundred")
    year = style.last_year - style.last_year % 100 + int(digits)
    return year if year <= style.last_year else year - 100


def _named(text: str) -> "re.Match[str] | None":
    found = NAMED.match(text)
    if found and _month(found[2]) and not (found[1] and found[3]):
        return found
    return None


def _month(name: str) -> int:
    plain = name.casefold().translate({0xE4: "ae", 0xF6: "oe", 0xFC: "ue"})
    return MONTHS.get(plain, 0)


def _with_name(text: str, named: "re.Match[str]", style: DateStyle) -> Bounds:
    year = _year(text, named[4], style)
    day = named[1] or named[3]
    if not day and len(named[4]) == 2:
        raise ValueError(
            f"'{text}' lacks the day or half the year; write the year with four digits"
        )
    return dates.parse("-".join(str(part) for part in (year, _month(named[2]), day) if part))


def _counted(text: str, days: int, style: DateStyle) -> Bounds:
    if style.counts_from not in COUNTED:
        raise ValueError(f"'{text}' is a number of days; say whether they count from 1900 or 1904")
    day = COUNTED[style.counts_from] + timedelta(days=days)
    return Bounds(day, day)
