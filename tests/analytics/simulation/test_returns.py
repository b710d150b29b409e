"""Who comes back, and when."""

from datetime import date

import pytest

from analytics.simulation import returns
from analytics.simulation.returns import Service

UNTIL = date(2026, 11, 25)
SERVICE = Service(procedures=2000, sites=2, seed=5, until=UNTIL, years=4)
FIRST = [returns.first_case(SERVICE, number) for number in range(SERVICE.procedures)]
RETURNS = {number: first for number, first in enumerate(FIRST) if first != number}


def test_operations_are_spread_over_the_years_up_to_the_last_day() -> None:
    days = [SERVICE.day_of(place) for place in (0, 1000, 1999.99)]
    assert (UNTIL - days[0]).days == 1461
    assert (UNTIL - days[1]).days == pytest.approx(730, abs=1)
    assert days[2] <= UNTIL


def test_about_one_in_twenty_cases_is_of_somebody_who_was_there_before() -> None:
    # One in ten of those comes back whose block of cases may, which is every second one.
    assert len(RETURNS) / SERVICE.procedures == pytest.approx(0.05 * 0.7, abs=0.02)


def test_a_person_comes_back_once_and_both_cases_agree() -> None:
    assert len(set(RETURNS.values())) == len(RETURNS)
    assert not set(RETURNS) & set(RETURNS.values())
    comes = {number for number in range(2000) if returns.comes_back(SERVICE, number)}
    assert comes == set(RETURNS.values())


def test_people_come_back_after_one_of_the_stated_gaps() -> None:
    years = {
        round((SERVICE.day_of(number) - SERVICE.day_of(first)).days / 365.25, 1)
        for number, first in RETURNS.items()
    }
    assert years <= set(returns.GAPS_YEARS)


def test_both_cases_of_a_person_show_one_person() -> None:
    number, first = next(iter(RETURNS.items()))
    person = returns.person_of(SERVICE, FIRST[number])
    assert person == returns.person_of(SERVICE, first)
    assert person.number == first
