"""Dates and instants as FHIR writes, reads and searches them; a partial date keeps its bounds."""

import calendar
import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from registry.rules.dates import Bounds, parse, written
from registry.rules.fhir.elements import Json

DAY = re.compile(r"^\d{4}(-\d{2}(-\d{2})?)?$")
MOMENT = re.compile(r"^(\d{4}-\d{2}-\d{2})T\d{2}:\d{2}(:\d{2}(\.\d+)?)?(Z|[+-]\d{2}:\d{2})?$")
# Equal, not equal, after, before, from, until, starts after, ends before, about.
LISTED = "eq ne gt lt ge le sa eb ap"
PREFIXES = tuple(LISTED.split())
# How much wider 'about' is: a tenth of the time between then and now, as the standard proposes.
ABOUT = 10


@dataclass(frozen=True)
class Asked:
    """A date of a query: how it is compared, and the first and last moment that it can mean."""

    prefix: str
    first: datetime
    last: datetime

    @property
    def days(self) -> Bounds:
        """The same as calendar days."""
        return Bounds(self.first.date(), self.last.date())


def is_partial(bounds: Bounds) -> bool:
    """Say whether bounds are a day, a whole month or a whole year: what a FHIR date can say."""
    first, last = bounds.earliest, bounds.latest
    if bounds.exact:
        return True
    month = (first.year, first.month) == (last.year, last.month)
    ends = last.day == calendar.monthrange(last.year, last.month)[1]
    return (month and first.day == 1 and ends) or (
        (first.year, first.month, first.day) == (last.year, 1, 1)
        and (last.month, last.day) == (12, 31)
    )


def span(name: str, earliest: date | None, latest: date | None) -> Json:
    """Return the element `name` + DateTime of a day, month or year, else + Period; {} for no date."""
    if earliest is None or latest is None:
        return {}
    bounds = Bounds(earliest, latest)
    if is_partial(bounds):
        return {f"{name}DateTime": written(bounds)}
    return {f"{name}Period": {"start": earliest.isoformat(), "end": latest.isoformat()}}


def instant(moment: datetime) -> str:
    """Write an instant in UTC."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def read(text: str) -> Bounds:
    """Read a FHIR date or dateTime as the days that it can mean; the day is that of its own zone.

    Raises ValueError, saying what to write: a time needs its zone, and nothing is guessed.
    """
    found = MOMENT.match(text)
    if found:
        if not found.group(4):
            raise ValueError(f"'{text}' has a time and no zone; write it as {text}Z or with +01:00")
        _moment(text)
        return parse(found.group(1))
    if not DAY.match(text):
        raise ValueError(f"'{text}' is no FHIR date; write 2026, 2026-03 or 2026-03-02")
    return parse(text)


def read_moment(text: str) -> datetime:
    """Read an instant: date, time and zone.

    Raises ValueError.
    """
    found = MOMENT.match(text)
    if not found or not found.group(4):
        raise ValueError(f"'{text}' is no instant; write 2026-03-02T09:00:00Z")
    return _moment(text)


def asked(text: str) -> Asked:
    """Read a date of a query, with its prefix.

    Raises ValueError.
    """
    prefix, rest = ("eq", text) if text[:2] not in PREFIXES else (text[:2], text[2:])
    if "T" in rest:
        first = read_moment(rest)
        found = MOMENT.match(rest)
        digits = len(found[3] or ".") - 1 if found else 0
        # As far as it is written: a moment that was told in thousandths is found by them again.
        wide = timedelta(microseconds=10 ** max(6 - digits, 0) - 1)
        return Asked(prefix, first, first + wide)
    days = read(rest)
    return Asked(
        prefix,
        datetime.combine(days.earliest, time.min, UTC),
        datetime.combine(days.latest, time.max, UTC),
    )


def about(given: Asked, now: datetime) -> Asked:
    """Widen a date by a tenth of its distance from now."""
    middle = given.first + (given.last - given.first) / 2
    wider = abs(now - middle) / ABOUT
    return Asked("ap", given.first - wider, given.last + wider)


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
        # A database takes fewer offsets than one can write.
        return moment.astimezone(UTC) if moment.tzinfo else moment
    except (ValueError, OverflowError) as fault:
        raise ValueError(f"'{text}' is not a possible moment: {fault}") from fault
