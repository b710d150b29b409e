"""Rounding and ratios of lengths."""

from decimal import ROUND_HALF_UP, Decimal


def to_tenth(value: Decimal | float | str) -> Decimal:
    """Round a length in mm to 0.1 mm, halves away from zero."""
    return Decimal(str(value)).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)


def side_ratio_pct(injured_mm: float, other_mm: float) -> float:
    """Return (injured - other) / other x 100 %, the usual ratio of CC distances.

    Raises ValueError when the other side is not above zero.

    References: Rockwood and Kraus classification methods text, as used in Mori et al. 2017.
    """
    if other_mm <= 0:
        raise ValueError(f"the other side must be above 0 mm, got {other_mm}")
    return (injured_mm - other_mm) / other_mm * 100
