"""Proportions against published tables."""

import pytest

from analytics.estimators.proportions import (
    clopper_pearson,
    missing_bounds,
    newcombe_difference,
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
