"""The dates of labels: two-digit years, months without a day, days of the year."""

from calendar import isleap
from datetime import date, timedelta

from registry.rules.labels import LabelRefused


def day_of_year(year: int, day: int, said: str) -> date:
    """Return the day of a year by its number.

    Raises LabelRefused for a day that the year does not have.
    """
    if not (1 <= day <= 365 + isleap(year) and year >= 1):
        raise LabelRefused(f"The date '{said}' is day {day} of {year}, which does not exist.")
    return date(year, 1, 1) + timedelta(days=day - 1)


def full_year(two_digits: int, today: date) -> int:
    """Return the year of two digits: from 49 years back to 50 ahead.

    References: GS1 General Specifications, section 7.12; for HIBC common practice, no source.
    """
    year = today.year - today.year % 100 + two_digits
    if year > today.year + 50:
        return year - 100
    return year + 100 if year < today.year - 49 else year


def possible(year: int, month: int, day: int, said: str) -> date:
    """Return a date.

    Raises LabelRefused when there is no such day.
    """
    try:
        return date(year, month, day)
    except ValueError:
        raise LabelRefused(
            f"The date '{said}' would be {year:04d}-{month:02d}-{day:02d}, a day that does not "
            "exist: the label was misread or is wrong. Scan it again, or type the part by hand."
        ) from None


def last_of_month(year: int, month: int, said: str) -> date:
    """Return the last day of a month.

    Raises LabelRefused when there is no such month.
    """
    first = possible(year, month, 1, said)
    following = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    return following - timedelta(days=1)
