"""Random values of one case or one person, from a stream of its own."""

from collections.abc import Iterator, Mapping, Sequence
from math import log
from statistics import NormalDist
from typing import TypeVar

import numpy as np

CASE, PERSON, TRANSLATION = 0, 1, 2
AT_ONCE = 256

T = TypeVar("T")
_quantile = NormalDist().inv_cdf


class Draws:
    """A stream made from a seed, a number and what the number counts.

    What one stream yields does not depend on how much was taken from another, nor in which order.
    Uniform values are drawn many at once, since single ones from the generator cost far more.
    """

    def __init__(self, seed: int, number: int, stream: int = CASE) -> None:
        self._generator = np.random.default_rng([seed, number, stream])
        self._uniforms = self._more()

    def random(self) -> float:
        """Return a value from 0 up to, but not including, 1."""
        value = next(self._uniforms, None)
        if value is None:
            self._uniforms = self._more()
            value = next(self._uniforms)
        return value

    def _more(self) -> Iterator[float]:
        values: list[float] = self._generator.random(AT_ONCE).tolist()
        return iter(values)

    def chance(self, share: float) -> bool:
        """Return True with this probability."""
        return self.random() < share

    def integers(self, low: int, high: int) -> int:
        """Return a whole number from `low` up to, but not including, `high`."""
        return low + int(self.random() * (high - low))

    def uniform(self, low: float, high: float) -> float:
        """Return a value between the two."""
        return low + self.random() * (high - low)

    def normal(self, mean: float, sd: float) -> float:
        """Return a normally distributed value, by the inverse of its distribution function."""
        return mean + sd * _quantile(self.random() or 1e-16)

    def bounded(self, mean: float, sd: float, low: float, high: float) -> float:
        """Return a normally distributed value, moved to the nearer bound where it lies outside."""
        return min(high, max(low, self.normal(mean, sd)))

    def exponential(self, mean: float) -> float:
        """Return an exponentially distributed waiting time."""
        return -mean * log(1.0 - self.random())

    def choice(self, options: Sequence[T]) -> T:
        """Return one of the options, each as likely."""
        return options[int(self.random() * len(options))]

    def pick(self, shares: Mapping[str, float]) -> str:
        """Return a key with the probability beside it; they add up to 1."""
        left = self.random()
        name = ""
        for name, share in shares.items():  # noqa: B007 - rounding leaves the last one
            left -= share
            if left < 0:
                break
        return name
