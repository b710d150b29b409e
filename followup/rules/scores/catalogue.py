"""The instruments that can be recorded: range, direction, licence; totals are checked here."""

from collections.abc import Callable
from dataclasses import dataclass

from followup.rules.scores import disability
from followup.rules.scores.result import ScoreResult, no_number


@dataclass(frozen=True)
class Instrument:
    """One outcome instrument. `best` is the end of its range that means the best state."""

    code: str
    name: str
    version: str
    low: float
    high: float
    best: float
    patient_reported: bool
    licence: str
    from_items: Callable[[dict[int, float]], ScoreResult] | None = None

    @property
    def lower_is_better(self) -> bool:
        """Whether a smaller number is the better state."""
        return self.best == self.low


LICENSED = "Item wording is licensed by its owner and not shipped; enter item numbers or the total."
FREE = "Free to use (from memory)."

INSTRUMENTS: dict[str, Instrument] = {
    row.code: row
    for row in (
        Instrument("pain_nrs", "Pain, 0 to 10", "1", 0, 10, 0, True, FREE),
        Instrument(
            "quickdash", "QuickDASH", "2006", 0, 100, 0, True, LICENSED, disability.quickdash
        ),
        Instrument("dash", "DASH", "2006", 0, 100, 0, True, LICENSED, disability.dash),
        Instrument("constant", "Constant-Murley", "2008", 0, 100, 100, False, LICENSED),
        Instrument("ases", "ASES", "1994", 0, 100, 100, True, LICENSED),
        Instrument("sane", "SANE", "1", 0, 100, 100, True, FREE),
    )
}


def total(code: str, value: float) -> ScoreResult:
    """Check a total that was computed elsewhere against the instrument's range.

    Raises KeyError for an unknown instrument.
    """
    instrument = INSTRUMENTS[code]
    if not instrument.low <= value <= instrument.high:
        return no_number(
            f"{value:g} is outside {instrument.low:g} to {instrument.high:g} of {instrument.name}"
        )
    return ScoreResult(value)


def from_items(code: str, items: dict[int, float]) -> ScoreResult:
    """Compute a total from numbered answers.

    Raises KeyError for an unknown instrument.
    """
    instrument = INSTRUMENTS[code]
    if instrument.from_items is None:
        return no_number(f"{instrument.name} is entered as its total here")
    return instrument.from_items(items)
