from datetime import date
from typing import Any

import pandas as pd
import pytest

from analytics.answers import enough, outcomes
from analytics.answers.enough import Side, Typed
from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import Answer
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data
from analytics.estimators.precision import expected_width, power
from tests.analytics.cohort import CUTOFF, data, film

END = pd.Timestamp(CUTOFF)


def cohort(groups: dict[str | None, tuple[int, int]], day: date = date(2025, 6, 1)) -> Data:
    """Return groups of so many cases that were lost and that held, all operated on one day."""
    cases: list[dict[str, Any]] = []
    films = []
    for group, numbers in groups.items():
        for rise, number in zip((5.0, 0.1), numbers, strict=True):
            for _ in range(number):
                cases.append({"construct_type": group, "performed_on": day})
                for after, value in ((2, 9.0), (360, 9.0 + rise)):
                    taken = day + pd.Timedelta(days=after)
                    films.append(film(0, value, procedure_id=len(cases), taken_on=taken))
    return data(cases, films)


def result(groups: dict[str | None, tuple[int, int]]) -> Answer:
    return outcomes.answer(cohort(groups), DEFINITIONS["rise-3mm"], HORIZONS["12m"])


def group(name: str = "LP", rate: float | None = 0.1, judged: int = 50, a_year: float = 20) -> Side:
    return Side(name, round((rate or 0) * judged), judged, judged, a_year, rate, a_year)


def test_the_two_largest_groups_are_compared_unless_others_are_named() -> None:
    found = result({"LP": (1, 5), "HP": (1, 9), "TG": (0, 2)})
    assert enough.sides_of(found, "", "") == ("HP", "LP")
    assert enough.sides_of(found, "TG", "") == ("TG", "HP")
    assert enough.sides_of(found, "", "HP") == ("LP", "HP")
    assert enough.sides_of(found, "LP", "TG") == ("LP", "TG")


@pytest.mark.parametrize(
    ("one", "other", "words"),
    [
        ("XX", "", "'XX' is not one of HP, LP"),
        ("LP", "LP", "'LP' cannot be compared with itself"),
    ],
)
def test_groups_that_are_not_there_are_refused(one: str, other: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        enough.sides_of(result({"LP": (1, 5), "HP": (1, 9)}), one, other)


def test_one_group_cannot_be_compared() -> None:
    with pytest.raises(ValueError, match="takes two groups"):
        enough.sides_of(result({"LP": (1, 5)}), "", "")


def test_a_side_brings_its_rate_and_its_judged_cases_a_year() -> None:
    data_of = cohort({"LP": (2, 6)})
    (row,) = outcomes.answer(data_of, DEFINITIONS["rise-3mm"], HORIZONS["12m"]).rows
    found = enough.side(row, data_of.cases, END)
    # Eight operated in one day a year and a half ago, all judged.
    assert found.rate == 0.25
    assert found.operated_a_year == pytest.approx(8 / 1.486, abs=0.01)
    assert found.a_year == found.operated_a_year
    assert not found.typed
    typed = enough.side(row, data_of.cases, END, Typed(rate=0.05, a_year=30))
    assert (typed.rate, typed.a_year, typed.typed, typed.typed_a_year) == (0.05, 30, True, True)
    assert typed.after(2) == 8 + 60


def test_the_volume_is_that_of_the_last_two_years() -> None:
    days = pd.Series(pd.to_datetime(["2020-01-01", "2025-03-01", "2026-01-01", "2026-11-25"]))
    assert enough.yearly(days, END) == pytest.approx(3 / 2, abs=0.01)
    assert enough.yearly(days.iloc[:1], END) == 0
    assert enough.yearly(days.iloc[:0], END) == 0


def test_a_service_that_has_just_begun_is_taken_for_half_a_year() -> None:
    days = pd.Series(pd.to_datetime(["2026-11-01", "2026-11-20"]))
    assert enough.yearly(days, END) == 4


def test_each_year_has_its_expected_interval_and_power() -> None:
    found = enough.answer(group("LP", 0.1), group("HP", 0.3, judged=40, a_year=10.4))
    assert [year.years for year in found.years] == list(enough.SHOWN)
    third = found.years[3]
    assert (third.one, third.other) == (110, 71)
    assert third.width == expected_width(0.1, 110, 0.3, 71)
    assert third.power == power(0.1, 110, 0.3, 71)
    widths = [year.width for year in found.years]
    assert widths == sorted(widths, reverse=True)


def test_a_feasible_number_of_years_is_named() -> None:
    found = enough.answer(group("LP", 0.1, 30, 15), group("HP", 0.3, 30, 15))
    assert found.needed is not None
    n = 30 + 15 * found.needed
    assert power(0.1, n, 0.3, n) >= 0.8 > power(0.1, n - 15, 0.3, n - 15)
    assert f"takes about {found.needed} more years at 15.0 and 15.0 judged" in found.sentence
    assert "To tell LP (10.0%) from HP (30.0%) four times in five" in found.sentence


def test_todays_numbers_may_suffice() -> None:
    found = enough.answer(group("LP", 0.05, 400), group("HP", 0.3, 400))
    assert found.needed == 0
    assert "the numbers of today suffice" in found.sentence


def test_more_than_ten_years_is_no_feasible_number() -> None:
    found = enough.answer(group("LP", 0.1, 20, 8), group("HP", 0.2, 20, 8))
    assert found.needed is not None
    assert found.needed > 10
    assert found.sentence.startswith("No feasible number: ")
    assert f"about {found.needed} years" in found.sentence


def test_what_never_comes_is_said_plainly() -> None:
    found = enough.answer(group("LP", 0.1, 20, 0), group("HP", 0.12, 20, 0))
    assert found.needed is None
    assert "No feasible number: not even 50 years" in found.sentence


def test_what_could_be_told_within_five_years_is_said() -> None:
    found = enough.answer(group("LP", 0.1, 50, 10), group("HP", 0.3, 50, 10))
    assert found.soon is not None
    low, high = found.soon
    assert low is not None
    assert high is not None
    assert power(low, 100, 0.3, 100) >= 0.8
    assert power(high, 100, 0.3, 100) >= 0.8
    assert f"Within 5 years a rate of LP of {low * 100:.1f}% or less, or of" in found.sentence
    few = enough.answer(group("LP", 0.1, 2, 0), group("HP", 0.5, 2, 0))
    assert "Within 5 years no rate of LP could be told beside 50.0% of HP." in few.sentence


def test_equal_rates_leave_only_a_width() -> None:
    found = enough.answer(group("LP", 0.1), group("HP", 0.1))
    assert found.needed is None
    assert "Two rates seen alike need not be alike." in found.sentence
    assert found.years[0].width > 0


def test_nobody_judged_asks_for_a_rate() -> None:
    found = enough.answer(group("LP", None, 0), group("HP", 0.1))
    assert found.years == ()
    assert "Nobody of LP is judged yet: type the rate" in found.sentence
    typed = enough.answer(Side("LP", 0, 0, 0, 20, 0.2, 20), group("HP", 0.1))
    # Without anybody today there is no interval of today.
    assert typed.years[0].years == 1


def test_the_cases_of_a_group_are_found_by_its_name() -> None:
    cases = cohort({"LP": (1, 1), None: (0, 2)}).cases
    groups = outcomes.groups_of(cases, "construct_type")
    one, none = enough.cases_of(groups, cases, ["LP", "not recorded"])
    assert (len(one), len(none)) == (2, 2)


def test_plain_rows_name_both_groups() -> None:
    rows = enough.to_rows(enough.answer(group("LP", 0.1), group("HP", 0.3)))
    assert list(rows[0])[:5] == ["years", "rate_LP", "rate_HP", "judged_LP", "judged_HP"]
    assert rows[-1]["years"] == 15
