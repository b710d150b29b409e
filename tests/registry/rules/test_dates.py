from datetime import date

import pytest

from registry.rules.dates import Bounds, age_on, parse, parse_exact, written


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("2024", date(2024, 1, 1), date(2024, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2023-02", date(2023, 2, 1), date(2023, 2, 28)),
        (" 2024-03-05 ", date(2024, 3, 5), date(2024, 3, 5)),
        ("2024-3-5", date(2024, 3, 5), date(2024, 3, 5)),
    ],
)
def test_a_date_is_kept_as_its_bounds(text: str, earliest: date, latest: date) -> None:
    assert parse(text) == Bounds(earliest, latest)


@pytest.mark.parametrize("text", ["2024", "2024-02", "2024-03-05"])
def test_bounds_are_written_as_they_were_typed(text: str) -> None:
    assert written(parse(text)) == text


def test_only_a_whole_date_is_exact() -> None:
    assert [parse(text).exact for text in ("2024", "2024-02", "2024-02-29")] == [False, False, True]


@pytest.mark.parametrize("text", ["05.03.2024", "05/03/2024", "5.3.2024"])
def test_the_day_comes_first_only_where_that_is_stated(text: str) -> None:
    assert parse(text, day_first=True).earliest == date(2024, 3, 5)
    with pytest.raises(ValueError, match="can be read in two ways"):
        parse(text)


@pytest.mark.parametrize("text", ["03/04/25", "03.04.25", "3-4-25"])
@pytest.mark.parametrize("day_first", [False, True])
def test_a_year_of_two_digits_is_never_guessed(text: str, day_first: bool) -> None:
    with pytest.raises(ValueError, match="write year-month-day"):
        parse(text, day_first=day_first)


@pytest.mark.parametrize(
    "text", ["2023-02-29", "2024-13", "2024-00", "2024-04-31", "1700-01-01", "2300"]
)
def test_a_date_outside_the_calendar_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a possible date"):
        parse(text)


@pytest.mark.parametrize("text", ["", "soon", "March 2024", "2024-03-05 10:00", "20240305"])
def test_what_is_not_a_date_says_how_to_write_one(text: str) -> None:
    with pytest.raises(ValueError, match="write year-month-day, for example 2024-03-05"):
        parse(text)


def test_an_exact_date_may_not_lack_its_day() -> None:
    assert parse_exact("2024-03-05") == date(2024, 3, 5)
    with pytest.raises(ValueError, match="lacks the day"):
        parse_exact("2024-03")


@pytest.mark.parametrize(
    ("born", "day", "years"),
    [
        ("1980-05-17", date(2026, 5, 16), 45),
        ("1980-05-17", date(2026, 5, 17), 46),
        ("1980-02-29", date(2025, 2, 28), 44),
        ("1980-02-29", date(2025, 3, 1), 45),
        ("1980", date(2026, 5, 17), 45),
        ("2026", date(2026, 5, 17), 0),
    ],
)
def test_age_counts_completed_years_from_the_latest_possible_birth(
    born: str, day: date, years: int
) -> None:
    assert age_on(parse(born), day) == years


def test_there_is_no_age_before_birth() -> None:
    with pytest.raises(ValueError, match="before the birth"):
        age_on(parse("1980-05-17"), date(1980, 5, 16))
