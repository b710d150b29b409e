"""Proportions against published tables."""

import pytest

from analytics.estimators.proportions import (
    clopper_pearson,
    missing_bounds,
    newcombe_difference,
    risk_ratio,
    wilson,
)

# Newcombe, Stat Med 1998;17:857-872, Table I, methods 3 (Wilson) and 5 (Clopper-Pearson, that
# column from memory and reproduced by scipy).
SINGLE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]

# Newcombe, Stat Med 1998;17:873-890, Table II, method 10.
DIFFERENCES = [
    (56, 70, 48, 80, 0.0524, 0.3339),
    (9, 10, 3, 10, 0.1705, 0.8090),
    (6, 7, 2, 7, 0.0582, 0.8062),
    (5, 56, 0, 29, -0.0381, 0.1926),
    (0, 10, 0, 20, -0.1611, 0.2775),
    (0, 10, 0, 10, -0.2775, 0.2775),
    (10, 10, 0, 20, 0.6791, 1.0),
    (10, 10, 0, 10, 0.6075, 1.0),
]

# Counts of published series of lateral clavicle fixation with Wilson limits in per cent; the
# limits are own arithmetic from the counts. Sources by DOI suffix or journal.
SERIES = [
    ("locking plate alone, complication", "s12891-019-2892-6", 5, 16, 14.2, 55.6),
    ("locking plate and one anchor, complication", "s12891-019-2892-6", 3, 18, 5.8, 39.2),
    ("hook plate, loss of reduction", "s12891-021-04987-y", 4, 30, 5.3, 29.7),
    (
        "coracoclavicular reconstruction, ratio of 25 %",
        "JBJS Open Access 2017;2:e0007",
        3,
        20,
        5.2,
        36.0,
    ),
]


@pytest.mark.parametrize(("events", "total", "score", "exact"), SINGLE)
def test_single_proportions_have_the_published_limits(
    events: int, total: int, score: tuple[float, float], exact: tuple[float, float]
) -> None:
    by_score, by_binomial = wilson(events, total), clopper_pearson(events, total)
    assert (by_score.low, by_score.high) == pytest.approx(score, abs=5e-5)
    assert (by_binomial.low, by_binomial.high) == pytest.approx(exact, abs=5e-5)
    assert by_score.estimate == by_binomial.estimate == events / total


@pytest.mark.parametrize(("e1", "n1", "e2", "n2", "low", "high"), DIFFERENCES)
def test_differences_have_the_published_limits(
    e1: int, n1: int, e2: int, n2: int, low: float, high: float
) -> None:
    found = newcombe_difference(e1, n1, e2, n2)
    assert found.estimate == pytest.approx(e1 / n1 - e2 / n2)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("what", "source", "events", "total", "low", "high"), SERIES)
def test_published_series_have_their_limits(
    what: str, source: str, events: int, total: int, low: float, high: float
) -> None:
    found = wilson(events, total)
    assert (found.low * 100, found.high * 100) == pytest.approx((low, high), abs=0.05), (
        f"{what}, {source}"
    )


def test_missing_cases_bound_a_rate_of_loss() -> None:
    # Own arithmetic: 120 operated, 104 evaluable, 10 lost; 10/120 and 26/120.
    bounds = missing_bounds(10, 104, 120)
    assert bounds.low == pytest.approx(0.08333, abs=5e-6)
    assert bounds.high == pytest.approx(0.21667, abs=5e-6)
    assert wilson(10, 104).estimate == pytest.approx(0.09615, abs=5e-6)
    held = wilson(94, 104)
    assert (held.low, held.high) == pytest.approx((0.8320, 0.9469), abs=5e-5)
    assert wilson(0, 25).high == pytest.approx(0.1332, abs=5e-5)


def test_a_ratio_of_risks_has_koopmans_published_limits() -> None:
    # Fagerland, Lydersen and Laake, Stat Methods Med Res 2015;24:224-254: 7 of 34 against 1 of 34,
    # 1.21 to 43 (read in a public test suite); digits by the R package PropCIs 0.3-0.
    found = risk_ratio(7, 34, 1, 34)
    assert found.estimate == pytest.approx(7)
    assert (found.low, found.high) == pytest.approx((1.22085285351481, 42.5757176097604), rel=1e-6)
    difference = newcombe_difference(7, 34, 1, 34)
    assert (difference.low, difference.high) == pytest.approx((0.0189, 0.3404), abs=5e-5)


def test_aspirin_lowers_the_risk_as_published() -> None:
    # Agresti, Categorical Data Analysis, 2002, section 3.1 (from memory, reproduced by epitools):
    # 0.550 (0.434 to 0.698) and 1.82 (1.43 to 2.31) by Wald; at 11,000 a group the score limits
    # differ from them in the third digit only.
    aspirin, placebo = (104, 11037), (189, 11034)
    for found, printed in (
        (risk_ratio(*aspirin, *placebo), (0.550, 0.434, 0.698)),
        (risk_ratio(*placebo, *aspirin), (1.82, 1.43, 2.31)),
    ):
        shown = (found.estimate, found.low, found.high)
        assert shown == pytest.approx(printed, rel=3e-3)


def test_the_limits_are_those_of_r_to_more_digits() -> None:
    # R 4.2.2, prop.test without correction and binom.test.
    for events, total, score, exact in (
        (81, 263, (0.255288519878274, 0.3662095769828), (0.252736745585271, 0.367621922601351)),
        (15, 148, (0.0623863995307363, 0.160487241723308), (0.0578440100834486, 0.161650490349479)),
        (0, 20, (0.0, 0.161125158052819), (0.0, 0.168433470983085)),
        (
            1,
            29,
            (0.00611321429276266, 0.171755218793203),
            (0.000872646883579923, 0.177644295488723),
        ),
    ):
        found = wilson(events, total), clopper_pearson(events, total)
        assert (found[0].low, found[0].high) == pytest.approx(score, abs=1e-12)
        assert (found[1].low, found[1].high) == pytest.approx(exact, abs=1e-12)
