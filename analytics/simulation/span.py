"""Between which days a simulated case is seen, and which of its later operations happen."""

from dataclasses import dataclass
from datetime import date

from analytics.simulation.attendance import NEVER
from analytics.simulation.mishaps import Fate


@dataclass(frozen=True)
class Span:
    """Days from the operation. `elapsed` is today; the index schedule is followed until `stops`.

    `removal` and `revision` are None when they do not happen, or have not happened yet.
    """

    elapsed: int
    ended: int
    stops: int
    removal: int | None
    revision: int | None

    @property
    def is_followed(self) -> bool:
        """Whether the schedule of the index procedure still runs."""
        return self.stops == self.elapsed - 1


def span_of(what: Fate, operated: date, until: date) -> Span:
    """Return the span of a case. Whoever comes today is on today's list and is not seen yet."""
    elapsed = (until - operated).days
    ended = NEVER if what.ending_day is None else what.ending_day
    last = min(elapsed, ended) - 1
    revision = _by(what.revision_day, last)
    stops = last if revision is None else revision - 1
    return Span(elapsed, ended, stops, _by(what.removal_day, stops), revision)


def _by(day: int | None, last: int) -> int | None:
    return day if day is not None and day <= last else None
