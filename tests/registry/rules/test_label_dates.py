"""Two-digit years slide with today; days and months that do not exist are refused."""

from datetime import date

import pytest

from registry.rules import label_dates
from registry.rules.labels import LabelRefused


@pytest.mark.parametrize(
    ("digits", "in_2026", "in_2001"),
    [(76, 2076, 1976), (77, 1977, 1977), (0, 2000, 2000), (27, 2027, 2027), (51, 2051, 2051)],
)
def test_the_century_lies_from_49_years_back_to_50_ahead(
    digits: int, in_2026: int, in_2001: int
) -> None:
    """GS1 General Specifications, section 7.12; own arithmetic."""
    assert label_dates.full_year(digits, date(2026, 6, 1)) == in_2026
    assert label_dates.full_year(digits, date(2001, 6, 1)) == in_2001


def test_every_two_digits_have_one_year_in_the_window() -> None:
    for today in (date(1999, 1, 1), date(2026, 1, 1), date(2051, 1, 1)):
        years = [label_dates.full_year(n, today) for n in range(100)]
        assert sorted(years) == list(range(today.year - 49, today.year + 51))


def test_a_month_ends_on_its_last_day() -> None:
    ends = [label_dates.last_of_month(2028, month, "").day for month in (1, 2, 4, 12)]
    assert ends == [31, 29, 30, 31]
    with pytest.raises(LabelRefused, match="does not exist"):
        label_dates.last_of_month(2028, 13, "2813")


def test_a_year_has_its_days() -> None:
    assert label_dates.day_of_year(2028, 366, "28366") == date(2028, 12, 31)
    with pytest.raises(LabelRefused, match="day 366 of 2027"):
        label_dates.day_of_year(2027, 366, "27366")
    with pytest.raises(LabelRefused, match="day 0"):
        label_dates.day_of_year(2027, 0, "27000")


def test_a_day_that_does_not_exist_is_told_in_words() -> None:
    assert label_dates.possible(2028, 2, 29, "280229") == date(2028, 2, 29)
    with pytest.raises(LabelRefused, match="'260229' would be 2026-02-29"):
        label_dates.possible(2026, 2, 29, "260229")
