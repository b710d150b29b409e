"""How many of those expected will come: a site's own past, with its uncertainty."""

from dataclasses import dataclass

from followup.rules.shares import share

PAST_MONTHS = 12
# Below this many past slots a share is shown with its interval and called too few: project choice.
ENOUGH_SLOTS = 20


@dataclass(frozen=True)
class Absence:
    """The share of past slots that were missed, with its 95% interval; of none, from 0 to 1."""

    missed: int
    slots: int
    share: float | None
    low: float
    high: float

    @property
    def is_enough(self) -> bool:
        """Whether the past is long enough to lean on."""
        return self.slots >= ENOUGH_SLOTS


@dataclass(frozen=True)
class Expected:
    """How many of a number will come, and the ends that the interval of the share gives."""

    likely: float | None
    low: float
    high: float


def absence(missed: int, slots: int) -> Absence:
    """Return the share of missed slots with its interval.

    Raises ValueError unless 0 <= missed <= slots.
    """
    found = share(missed, slots)
    if found.low is None or found.high is None:
        return Absence(missed, slots, None, 0.0, 1.0)
    return Absence(missed, slots, found.estimate, found.low, found.high)


def expected(due: int, past: Absence) -> Expected:
    """Return how many of those due are expected to come.

    The interval is that of the share alone: it leaves out the chance of the single day.
    """
    likely = None if past.share is None else due * (1 - past.share)
    return Expected(likely, due * (1 - past.high), due * (1 - past.low))


def in_words(past: Absence) -> str:
    """Say the share with its interval and the slots that it rests on."""
    if past.share is None:
        return (
            f"No slot of the last {PAST_MONTHS} months was kept or missed yet, so nothing is known "
            "of how many will not come."
        )
    said = (
        f"Not coming: {past.missed} of {past.slots} past slots, {_percent(past.share)} "
        f"(95% interval {_percent(past.low)} to {_percent(past.high)}; "
        f"Wilson; last {PAST_MONTHS} months)."
    )
    if past.is_enough:
        return said
    return f"{said} Fewer than {ENOUGH_SLOTS} past slots are too few to plan by."


def _percent(share: float) -> str:
    return f"{100 * share:.0f}%"
