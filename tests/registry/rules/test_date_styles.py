"""Dates are read in the style that was said or settled, and never by a guess."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.rules import date_styles
from registry.rules.date_styles import DateStyle, DateTally, Settled
from registry.rules.dates import Bounds

DAY, MONTH = DateStyle("day_first"), DateStyle("month_first")
YEAR = DateStyle("year_first", 2026)


def settled(*values: str, counts_from: str = "") -> Settled:
    seen = DateTally()
    for value in values:
        seen.note(value)
    return date_styles.settle(seen, counts_from)


@pytest.mark.parametrize(
    ("text", "style", "day"),
    [
        ("2024-03-05", DateStyle(), date(2024, 3, 5)),
        ("2024/3/5", DateStyle(), date(2024, 3, 5)),
        ("2024-03-05 14:30", DateStyle(), date(2024, 3, 5)),
        ("2024-03-05T00:00:00", DateStyle(), date(2024, 3, 5)),
        ("05.03.2024", DAY, date(2024, 3, 5)),
        ("5. 3. 2024", DAY, date(2024, 3, 5)),
        ("05/03/2024", DAY, date(2024, 3, 5)),
        ("05/03/2024", MONTH, date(2024, 5, 3)),
        ("03-25-2024", MONTH, date(2024, 3, 25)),
        ("05.03.24", DateStyle("day_first", 2026), date(2024, 3, 5)),
        ("05.03.41", DateStyle("day_first", 2026), date(1941, 3, 5)),
        ("05.03.41", DateStyle("day_first", 2099), date(2041, 3, 5)),
        ("05.03.41", DateStyle("day_first", 1999), date(1941, 3, 5)),
        ("24-05-03", YEAR, date(2024, 5, 3)),
        ("99/12/31", YEAR, date(1999, 12, 31)),
        # The same day in whichever order.
        ("05/05/2024", DateStyle(), date(2024, 5, 5)),
        ("05.05.05", DateStyle(last_year=2026), date(2005, 5, 5)),
        ("3/4/2025 12:00:00 AM", DAY, date(2025, 4, 3)),
        ("3/4/2025 12:00:00\u202fAM", MONTH, date(2025, 3, 4)),
        ("03.04.2025 2:30 pm", DAY, date(2025, 4, 3)),
        ("5 March 2024", DateStyle(), date(2024, 3, 5)),
        ("5-Mar-24", DateStyle(last_year=2026), date(2024, 3, 5)),
        ("March 5, 2024", DateStyle(), date(2024, 3, 5)),
        ("5. M\u00e4rz 2024", DateStyle(), date(2024, 3, 5)),
        ("3 Dez. 2024", DateStyle(), date(2024, 12, 3)),
        # The day numbers of 1 January 2008 in both countings are in the description of Office
        # Open XML (ECMA-376 part 1, 18.17.4.1): 39448 and, 1462 days fewer, 37986; from memory.
        ("39448", DateStyle(counts_from="1900"), date(2008, 1, 1)),
        ("37986", DateStyle(counts_from="1904"), date(2008, 1, 1)),
        ("39448.5", DateStyle(counts_from="1900"), date(2008, 1, 1)),
    ],
)
def test_every_usual_style_is_read(text: str, style: DateStyle, day: date) -> None:
    assert date_styles.parse(text, style) == Bounds(day, day)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2024", date(2024, 1, 1), date(2024, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("02/2024", date(2024, 2, 1), date(2024, 2, 29)),
        ("Feb 2024", date(2024, 2, 1), date(2024, 2, 29)),
    ],
)
def test_what_is_known_in_part_keeps_its_bounds(text: str, first: date, last: date) -> None:
    assert date_styles.parse(text, DateStyle()) == Bounds(first, last)


@pytest.mark.parametrize(
    ("text", "style", "says"),
    [
        ("03/04/25", DateStyle(), "can be read in two ways"),
        ("03/04/2025", DateStyle(last_year=2026), "can be read in two ways"),
        ("03/04/25", DAY, "a year of two digits"),
        ("03/25/2024", DAY, "no month 25; the column is day first"),
        ("25/03/2024", MONTH, "no month 25; the column is month first"),
        ("05/05/24", DateStyle(last_year=2026), "can be read in two ways"),
        ("25/03/2024", YEAR, "has its year last; the column is year first"),
        ("4/03/24", YEAR, "has its year last; the column is year first"),
        ("24-13-05", YEAR, "no month 13; the column is year first"),
        ("30.02.2024", DAY, "not a possible date"),
        ("39448", DateStyle(), "say whether they count from 1900 or 1904"),
        ("soon", DAY, "is not a date"),
        ("5 Plum 2024", DAY, "is not a date"),
        ("Mar 24", DateStyle(last_year=2026), "lacks the day or half the year"),
    ],
)
def test_what_the_style_does_not_say_is_refused(text: str, style: DateStyle, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        date_styles.parse(text, style)


def test_one_value_settles_the_order_of_its_column_and_is_named() -> None:
    found = settled("03/04/2025", "25/03/2025")
    assert (found.style.order, found.asks) == ("day_first", False)
    assert found.why == "25/03/2025 can only be day first."
    assert settled("03/04/2025", "03/25/2025").style.order == "month_first"


def test_no_value_that_settles_is_asked_and_never_guessed() -> None:
    found = settled("03/04/2025", "01/02/2025", "05/05/2025")
    assert (found.style.order, found.asks_order) == ("", True)
    assert "03/04/2025 can be read in more than one way" in found.why
    assert found.orders == ("day_first", "month_first")
    assert "mostly day first" in settled("03.04.2025").why
    assert settled("03.04.2025").asks_order


def test_values_that_contradict_each_other_are_asked_about() -> None:
    found = settled("25/03/2025", "03/25/2025")
    assert found.asks_order
    assert "one of them is wrong" in found.why


@pytest.mark.parametrize(
    "values", [["24-05-03"], ["25.03.24"], ["24-05-03", "24-11-30"], ["05.05.05"]]
)
def test_a_year_of_two_digits_that_may_stand_first_is_asked_about(values: list[str]) -> None:
    found = settled(*values)
    assert (found.style.order, found.asks_order, found.asks_years) == ("", True, True)
    assert "year_first" in found.orders


@pytest.mark.parametrize(
    ("values", "order", "why"),
    [
        (["24-05-03", "99-12-31"], "year_first", "99-12-31 can only be year first"),
        (["25.03.24", "25.03.45"], "day_first", "25.03.45 can only be day first."),
        (
            ["25.03.24", "03.04.45"],
            "day_first",
            "25.03.24 cannot be month first, 03.04.45 cannot be year first, then month and day.",
        ),
        (["25.03.24", "03.04.2024"], "day_first", "25.03.24 cannot be month first, 03.04.2024"),
    ],
)
def test_values_may_settle_together_in_which_order_three_numbers_stand(
    values: list[str], order: str, why: str
) -> None:
    found = settled(*values)
    assert (found.style.order, found.asks_order) == (order, False)
    assert why in found.why


def test_what_is_a_date_in_no_order_settles_nothing() -> None:
    assert settled("25/13/2024", "03/04/2024").asks_order


def test_days_and_months_that_are_always_equal_ask_nothing_and_settle_nothing() -> None:
    found = settled("05/05/2025", "2025-03-04", "March 2025")
    assert (found.asks, found.style.order) == (False, "")
    assert found.why.startswith("Day and month are the same number")


def test_two_digit_years_and_numbers_of_days_are_asked_about() -> None:
    assert settled("25.03.24").asks_years
    assert settled("39448").asks_count
    found = settled("39448", counts_from="1904")
    assert (found.asks_count, found.style.counts_from) == (False, "1904")


@given(st.dates(date(1900, 1, 1), date(2099, 12, 31)))
def test_what_is_written_in_an_order_is_read_back_in_it(day: date) -> None:
    exact = Bounds(day, day)
    assert date_styles.parse(f"{day:%d.%m.%Y}", DAY) == exact
    assert date_styles.parse(f"{day:%m/%d/%Y}", MONTH) == exact
    found = settled(f"{day:%d/%m/%Y}")
    assert found.asks_order == (day.day <= 12 and day.day != day.month)


@pytest.mark.parametrize(
    ("style", "values", "fits"),
    [
        (DateStyle("day_first"), ["03/04/2025", "25/04/2025"], True),
        (DateStyle("day_first"), ["03/04/2025"], True),
        (DateStyle("day_first"), ["04/25/2025", "03/04/2025"], False),
        (DateStyle("day_first"), ["04/25/2025", "25/04/2025"], True),
        (DateStyle("month_first"), ["25/04/2025"], False),
        (DateStyle("month_first"), ["04/04/2025"], True),
        (DateStyle(), ["04/04/2025"], True),
        (DateStyle(), ["04/04/2025", "03/04/2025"], False),
        (DateStyle("year_first", 2026), ["24-05-03"], True),
        (DateStyle("year_first", 2026), ["24-05-03", "03/04/2025"], False),
        (DateStyle(), ["2025-04-03"], True),
        (DateStyle(), ["25.04.2025"], False),
        (DateStyle("day_first"), ["03.04.25"], False),
        (DateStyle("day_first", last_year=2030), ["03.04.25"], True),
        (DateStyle(), ["45000"], False),
        (DateStyle(counts_from="1900"), ["45000"], True),
    ],
)
def test_what_was_settled_before_is_held_against_new_values(
    style: DateStyle, values: list[str], fits: bool
) -> None:
    seen = DateTally()
    for value in values:
        seen.note(value)
    assert date_styles.fits(style, seen) == fits


def test_days_counted_from_another_year_than_before_do_not_fit() -> None:
    seen = DateTally()
    seen.note("45000")
    assert date_styles.fits(DateStyle(counts_from="1904"), seen, "1904")
    assert not date_styles.fits(DateStyle(counts_from="1900"), seen, "1904")
