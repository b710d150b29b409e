"""A share with its 95 % interval, as every rate of the service is quoted."""

from dataclasses import dataclass
from math import sqrt

Z_95 = 1.959963984540054


@dataclass(frozen=True)
class Share:
    """So many of so many, and the interval; `estimate` is None of nobody."""

    number: int
    of: int
    estimate: float | None
    low: float | None
    high: float | None


def share(number: int, of: int) -> Share:
    """Return a share with Wilson's interval.

    Raises ValueError where the number is not among those that it is of.

    References
    ----------
    Wilson, J Am Stat Assoc 1927;22:209.
    """
    if not 0 <= number <= of:
        raise ValueError(f"{number} of {of} is no share")
    if not of:
        return Share(number, of, None, None, None)
    part, square = number / of, Z_95**2
    middle = (part + square / (2 * of)) / (1 + square / of)
    half = Z_95 / (1 + square / of) * sqrt(part * (1 - part) / of + square / (4 * of**2))
    low = 0.0 if number == 0 else middle - half
    high = 1.0 if number == of else middle + half
    return Share(number, of, part, low, high)
