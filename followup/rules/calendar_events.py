"""Booked slots as the events of a calendar: which slots are one event, and how it stands.

A review that is booked anew keeps its event, as long as the earlier slot was cancelled and not kept or
missed: the event moves. So one that has moved keeps its UID, and its number of changes only rises.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from itertools import groupby

KEPT, MISSED, CANCELLED = "kept", "missed", "cancelled"
# How long a calendar goes on saying that an event is cancelled, and showing what is over: project
# choices. A feed that drops a cancelled event at once leaves it in some programs.
CANCELLED_DAYS, PAST_DAYS = 60, 28


@dataclass(frozen=True)
class Slot:
    """One appointment: `changes` is the sum of the versions of everything that it shows.

    `here` says whether it belongs to the calendar that is asked for, `named` the key of whom the
    summary names, '' where it names nobody.
    """

    id: int
    review: int
    starts: datetime
    minutes: int
    state: str
    changes: int
    changed_at: datetime
    here: bool
    summary: str
    location: str
    named: str = ""


@dataclass(frozen=True)
class Event:
    """One event of a calendar."""

    first_slot: int
    sequence: int
    starts: datetime
    minutes: int
    summary: str
    location: str
    cancelled: bool
    changed_at: datetime
    named: str = ""


def starts_at(on: date, hour: int, minute: int, zone: tzinfo) -> datetime:
    """Return a site's time of day on a date as an instant with the site's zone."""
    return datetime(on.year, on.month, on.day, hour, minute, tzinfo=zone)


def summary(step: str, *, film_first: bool, key: str, name: str = "") -> str:
    """Say what an appointment is for, and for whom: by key, and by name only where one is given."""
    film = ", film first" if film_first else ""
    return f"{step}{film}: {name} ({key})" if name else f"{step}{film} ({key})"


def events_of(slots: Iterable[Slot], now: datetime) -> list[Event]:
    """Return the events of a calendar in the order of their times.

    An event whose latest slot is cancelled, or elsewhere, is cancelled here. What has been cancelled
    for more than 60 days, and what is over for more than 28, is left out.
    """
    ordered = sorted(slots, key=lambda slot: (slot.review, slot.id))
    found = []
    for _, same in groupby(ordered, key=lambda slot: slot.review):
        for chain in _chains(list(same)):
            event = _event(chain)
            if event is not None and _is_shown(event, now):
                found.append(event)
    return sorted(found, key=lambda event: (event.starts, event.first_slot))


def _chains(slots: Sequence[Slot]) -> list[list[Slot]]:
    """Split the slots of a review after each that was kept or missed."""
    chains: list[list[Slot]] = []
    begin = True
    for slot in slots:
        if begin:
            chains.append([])
        chains[-1].append(slot)
        begin = slot.state in (KEPT, MISSED)
    return chains


def _event(chain: Sequence[Slot]) -> Event | None:
    here = [slot for slot in chain if slot.here]
    if not here:
        return None
    shown, latest = here[-1], chain[-1]
    return Event(
        first_slot=chain[0].id,
        sequence=sum(slot.changes for slot in chain),
        starts=shown.starts,
        minutes=shown.minutes,
        summary=shown.summary,
        location=shown.location,
        cancelled=shown is not latest or shown.state == CANCELLED,
        changed_at=max(slot.changed_at for slot in chain),
        named=shown.named,
    )


def _is_shown(event: Event, now: datetime) -> bool:
    if event.cancelled:
        return event.changed_at >= now - timedelta(days=CANCELLED_DAYS)
    return event.starts >= now - timedelta(days=PAST_DAYS)
