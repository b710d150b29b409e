"""Rates against published tables. Each row names its source and how its value is known."""

import pytest

from analytics.estimators.rates import direct_standardise, poisson_rate, rate_ratio

# Garwood, Biometrika 1936;28:437-442: exact limits of a count. That of 18 read in a public test
# suite; the others from memory; all reproduced by R 4.2.2.
GARWOOD = [
    (0, 0.0, 3.68887945411394),
    (1, 0.0253178079842899, 5.5716433909389),
    (5, 1.62348639011842, 11.6683320793227),
    (10, 4.79538869613243, 18.3903560420178),
    (18, 10.6679407803995, 28.447760267528),
    (100, 81.3639912509232, 121.626793792426),
]

# Down's syndrome by the mother's age (under 20, 20-24, ... 40 and over) and birth order: Fleiss,
# Statistical Methods for Rates and Proportions, 1981, p. 249.
CASES = {
    "1": (107, 141, 60, 40, 39, 25),
    "2": (25, 150, 110, 84, 82, 39),
    "3": (3, 71, 114, 103, 108, 75),
    "4": (1, 26, 64, 89, 137, 96),
    "5 and over": (0, 8, 63, 112, 262, 295),
}
BIRTHS = {
    "1": (230061, 329449, 114920, 39487, 14208, 3052),
    "2": (72202, 326701, 208667, 83228, 28466, 5375),
    "3": (15050, 175702, 207081, 117300, 45026, 8660),
    "4": (2293, 68800, 132424, 98301, 46075, 9834),
    "5 and over": (327, 30666, 123419, 149919, 104088, 34392),
}
# Fay and Feuer, Stat Med 1997;16:791-801, Table 1, per 100,000, read in the help of the R package
# epitools: adjusted rate and its gamma interval.
ADJUSTED = {
    "1": (92.3, 80.4, 105.8),
    "2": (91.2, 82.4, 100.9),
    "3": (85.1, 77.2, 94.2),
    "4": (92.7, 80.0, 114.7),
    "5 and over": (75.5, 67.7, 188.3),
}

# White males of California by age, 1960 against 1940: deaths and numbers of 1960, then of 1940.
# Selvin, Statistical Analysis of Epidemiologic Data, 2004, read in the help of epitools.
DEATHS = (45, 201, 320, 670, 1126, 3160, 9723, 17935, 22179, 13461, 2238)
MEN = (
    *(906897, 3794573, 10003544, 10629526, 9465330, 8249558),
    *(7294330, 5022499, 2920220, 1019504, 142532),
)
DEATHS_BEFORE = (141, 926, 1253, 1080, 1869, 4891, 14956, 30888, 41725, 26501, 5928)
MEN_BEFORE = (
    *(1784033, 7065148, 15658730, 10482916, 9939972, 10563872),
    *(9114202, 6850263, 4702482, 1874619, 330915),
)


@pytest.mark.parametrize(("events", "low", "high"), GARWOOD)
def test_counts_have_the_published_limits(events: int, low: float, high: float) -> None:
    found = poisson_rate(events, 1.0)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


def test_a_rate_by_person_years_is_as_computed_by_epitools() -> None:
    # 15 events in 1234.5 years, per 100 years; epitools 0.5-10.1, which searches for its limits.
    found = poisson_rate(15, 12.345)
    assert (found.estimate, found.low, found.high) == pytest.approx(
        (1.21506682867558, 0.680063625930245, 2.00406801427697), abs=1e-6
    )


def test_a_ratio_of_rates_is_as_computed_by_r() -> None:
    # Counts from the help of R's poisson.test; values by R 4.2.2.
    found = rate_ratio(11, 800, 21, 3011)
    assert (found.estimate, found.low, found.high) == pytest.approx(
        (1.9714880952381, 0.858426403391639, 4.27726594365407), abs=1e-9
    )


@pytest.mark.parametrize("order", CASES)
def test_birth_orders_are_standardised_as_published(order: str) -> None:
    standard = [sum(births) / 5 for births in zip(*BIRTHS.values(), strict=True)]
    found = direct_standardise(CASES[order], BIRTHS[order], standard)
    shown = [1e5 * one for one in (found.estimate, found.low, found.high)]
    assert shown == pytest.approx(ADJUSTED[order], abs=0.05)
    if order == "1":
        crude = poisson_rate(sum(CASES[order]), sum(BIRTHS[order])).estimate
        assert 1e5 * crude == pytest.approx(56.3, abs=0.05)
        # epitools 0.5-10.1.
        assert (found.estimate, found.low, found.high) == pytest.approx(
            (0.000923045255331995, 0.000804417498507042, 0.00105763345749261), rel=1e-9
        )


def test_observed_deaths_against_expected_are_as_computed_by_epitools() -> None:
    before = zip(MEN, DEATHS_BEFORE, MEN_BEFORE, strict=True)
    expected = sum(men * deaths / number for men, deaths, number in before)
    assert expected == pytest.approx(85556.8888445257)
    found = poisson_rate(sum(DEATHS), expected)
    assert sum(DEATHS) == 71058
    assert found.estimate == pytest.approx(0.830535108974414, abs=1e-12)
    # The limits are exact here; epitools takes the logarithm to be normal.
    assert (found.low, found.high) == pytest.approx((0.8245, 0.8367), abs=1e-4)


def test_a_units_standardised_ratio_is_as_computed_by_r() -> None:
    # 12 observed against 8.2 expected; R 4.2.2.
    found = poisson_rate(12, 8.2)
    assert (found.estimate, found.low, found.high) == pytest.approx((1.463, 0.756, 2.556), abs=5e-4)
