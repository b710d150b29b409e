from decimal import Decimal
from typing import Any

import pytest

from registry.rules.units import side_ratio_pct, to_tenth


@pytest.mark.parametrize(
    ("value", "rounded"),
    [
        ("9.25", "9.3"),
        ("9.35", "9.4"),
        ("9.249", "9.2"),
        ("-9.25", "-9.3"),
        (2.675, "2.7"),
        (0.15, "0.2"),
        (Decimal("8.95"), "9.0"),
        (7, "7.0"),
    ],
)
def test_halves_are_rounded_away_from_zero(value: Any, rounded: str) -> None:
    assert str(to_tenth(value)) == rounded


@pytest.mark.parametrize(
    ("injured", "other", "pct"), [(13.5, 9.0, 50.0), (11.2, 8.9, 25.843), (9.0, 9.0, 0.0)]
)
def test_the_ratio_is_against_the_other_side(injured: float, other: float, pct: float) -> None:
    # (injured - healthy) / healthy x 100, the usual ratio; 13.5 and 9.0 mm give +50 %.
    assert side_ratio_pct(injured, other) == pytest.approx(pct, abs=0.001)


@pytest.mark.parametrize("other", [0.0, -1.0])
def test_there_is_no_ratio_against_nothing(other: float) -> None:
    with pytest.raises(ValueError, match="must be above 0 mm"):
        side_ratio_pct(9.0, other)
