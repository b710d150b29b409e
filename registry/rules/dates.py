"""Calendar dates as people know them: whole, or only the month, or only the year."""

import calendar
import re
from dataclasses import dataclass
from datetime import date

ISO = re.compile(r"^(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?$")
DAY_FIRST = re.compile(r"^(\d{1,2})[./](\d{1,2})[./](\d{4})$")
TWO_DIGIT_YEAR = re.compile(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2}$")


@dataclass(frozen=True)
class Bounds:
    """The first and the last day that a date can be; equal when it is known exactly."""

    earliest: date
    latest: date

    @property
    def exact(self) -> bool:
        """Whether the day is known."""
        return self.earliest == self.latest


def parse(text: str, *, day_first: bool = False) -> Bounds:
    """Read '2024-03-05', '2024-03' or '2024'; with `day_first` also '05.03.2024' and '05/03/2024'.

    Raises ValueError for anything ambiguous or impossible, saying what to write.
    """
    written = text.strip()
    whole = ISO.match(written)
    if whole:
        year, month, day = (int(part) if part else None for part in whole.groups())
        return _bounds(written, year or 0, month, day)
    swapped = DAY_FIRST.match(written)
    if swapped and day_first:
        day, month, year = (int(part) for part in swapped.groups())
        return _bounds(written, year, month, day)
    if swapped or TWO_DIGIT_YEAR.match(written):
        raise ValueError(f"'{written}' can be read in two ways; write year-month-day, 2024-03-05")
    raise ValueError(f"'{written}' is not a date; write year-month-day, for example 2024-03-05")


def parse_exact(text: str, *, day_first: bool = False) -> date:
    """Read a whole date.

    Raises ValueError when only the month or the year is given, or the date is impossible.
    """
    bounds = parse(text, day_first=day_first)
    if not bounds.exact:
        raise ValueError(f"'{text.strip()}' lacks the day; this date must be known exactly")
    return bounds.earliest


def written(bounds: Bounds) -> str:
    """Write bounds the way they were typed: year, year-month or the whole date."""
    first, last = bounds.earliest, bounds.latest
    if bounds.exact:
        return first.isoformat()
    if (first.month, first.day, last.month, last.day) == (1, 1, 12, 31):
        return f"{first.year}"
    return f"{first.year}-{first.month:02d}"


def age_on(born: Bounds, day: date) -> int:
    """Return the completed years at a day, taking the latest possible birth date.

    Raises ValueError when the day is before the birth.
    """
    if day < born.earliest:
        raise ValueError(f"{day} is before the birth ({written(born)})")
    birth = born.latest
    years = day.year - birth.year - ((day.month, day.day) < (birth.month, birth.day))
    return max(0, years)


def _bounds(text: str, year: int, month: int | None, day: int | None) -> Bounds:
    try:
        if not 1850 <= year <= 2200:
            raise ValueError(f"the year {year} is not possible")
        if month is None:
            return Bounds(date(year, 1, 1), date(year, 12, 31))
        if day is None:
            last = calendar.monthrange(year, month)[1]
            return Bounds(date(year, month, 1), date(year, month, last))
        return Bounds(date(year, month, day), date(year, month, day))
    except (ValueError, calendar.IllegalMonthError) as fault:
        raise ValueError(f"'{text}' is not a possible date: {fault}") from fault
