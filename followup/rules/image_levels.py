"""Which values of a film are shown black, which white, and what lies between."""

from dataclasses import dataclass
from math import isfinite

from registry.errors import BadInput


@dataclass(frozen=True)
class Levels:
    """Values of a film after its rescale: the range that occurs, and what is shown black and white."""

    least: float
    most: float
    shown_low: float
    shown_high: float


def asked_levels(low: str, high: str, usual: Levels) -> tuple[float, float] | None:
    """Return the values to show black and white, as asked for; what is left out is as usual.

    None when nothing is asked for: then the film's own way holds, which may be no straight line.

    Raises BadInput for what is no number, and when black would lie at or above white.
    """
    if not (low or high):
        return None
    found = []
    for name, given, otherwise in (
        ("low", low, usual.shown_low),
        ("high", high, usual.shown_high),
    ):
        try:
            number = float(given) if given else otherwise
        except ValueError:
            number = float("nan")
        if not isfinite(number):
            raise BadInput({name: f"'{given[:20]}' is no number; write a value of the film."})
        found.append(number)
    if found[0] >= found[1]:
        raise BadInput({"low": f"Black ({found[0]:g}) has to lie below white ({found[1]:g})."})
    return found[0], found[1]
