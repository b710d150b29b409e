from datetime import date, timedelta

from analytics.rules.keeping import DAYS, NEWEST, Copy, to_drop

FIRST = date(2026, 1, 1)


def day(number: int) -> date:
    return FIRST + timedelta(days=number)


def test_the_newest_stay_however_many_there_are_of_a_day() -> None:
    copies = [Copy(number, FIRST) for number in range(NEWEST + 5)]
    assert to_drop(copies) == [0, 1, 2, 3, 4]
    assert to_drop(copies[:NEWEST]) == []
    assert to_drop([]) == []


def test_the_last_of_each_of_the_latest_days_stays() -> None:
    copies = [Copy(2 * number + half, day(number)) for number in range(30) for half in (0, 1)]
    left = {one.number for one in copies} - set(to_drop(copies))
    latest = range(30 - DAYS, 30)
    assert {2 * number + 1 for number in latest} <= left
    assert not {2 * number for number in range(30 - DAYS, 30 - NEWEST // 2)} & left


def test_the_last_of_each_month_stays_for_ever() -> None:
    copies = [Copy(number, day(number)) for number in range(365)]
    left = {one.on for one in copies} - {day(number) for number in to_drop(copies)}
    ends = {date(2026, month, 1) - timedelta(days=1) for month in range(2, 13)}
    assert ends <= left
    assert len(left) == len(ends | {day(number) for number in range(365 - DAYS, 365)})


def test_what_is_held_stays() -> None:
    copies = [Copy(number, FIRST, held=number == 0) for number in range(NEWEST + 3)]
    assert to_drop(copies) == [1, 2]
