"""Booked slots as an iCalendar feed.

References
----------
RFC 5545, sections 3.1 (folding), 3.3.11 (escaping), 3.6.1 (events), 3.8.7.2 (DTSTAMP: without a METHOD
it is the moment of the last revision), 3.8.7.4 (SEQUENCE). RFC 7986, sections 5.1 and 5.7: NAME and
REFRESH-INTERVAL. The names that begin with X- say the same to older programs: common practice, no
source.
"""

import hashlib
from collections.abc import Sequence
from datetime import UTC, timedelta

from icalendar import Calendar, vDuration, vText
from icalendar import Event as Entry

from followup.rules.calendar_events import Event

PRODUCT = "-//Holdfast//Clinic calendar 1//EN"
CONTENT_TYPE = "text/calendar; charset=utf-8"
REFRESH = timedelta(hours=1)


def render(name: str, site_id: int, events: Sequence[Event]) -> bytes:
    """Return a calendar as a program reads it.

    Times are written in UTC: an appointment is one instant, and no program has to know the rules of
    the site's zone to show it at the right time of day.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    # The library escapes the texts that it knows; the name of a calendar it does not.
    calendar.add("name", vText(" ".join(name.split())))
    calendar.add("x-wr-calname", vText(" ".join(name.split())))
    calendar.add("refresh-interval", vDuration(REFRESH), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(REFRESH))
    for event in events:
        calendar.add_component(_entry(event, site_id))
    written: bytes = calendar.to_ical()
    return written


def uid_of(event: Event, site_id: int) -> str:
    """Return the name of an event, the same for as long as it is this event."""
    return f"slot-{event.first_slot}@site-{site_id}.holdfast.invalid"


def digest_of(name: str, site_id: int, events: Sequence[Event]) -> str:
    """Return a digest of what `render` writes, without writing it."""
    said = repr((PRODUCT, name, site_id, [_said(event) for event in events]))
    return hashlib.sha256(said.encode()).hexdigest()


def _said(event: Event) -> tuple[str, ...]:
    return (
        f"{event.first_slot}.{event.sequence} {event.cancelled} {event.minutes}",
        event.starts.astimezone(UTC).isoformat(),
        event.changed_at.astimezone(UTC).isoformat(),
        event.summary,
        event.location,
    )


def _entry(event: Event, site_id: int) -> Entry:
    entry = Entry()
    changed = event.changed_at.astimezone(UTC).replace(microsecond=0)
    entry.add("uid", uid_of(event, site_id))
    entry.add("sequence", event.sequence)
    entry.add("dtstamp", changed)
    entry.add("last-modified", changed)
    entry.add("dtstart", event.starts.astimezone(UTC))
    entry.add("duration", timedelta(minutes=event.minutes))
    entry.add("summary", event.summary)
    entry.add("location", event.location)
    entry.add("status", "CANCELLED" if event.cancelled else "CONFIRMED")
    entry.add("transp", "TRANSPARENT" if event.cancelled else "OPAQUE")
    entry.add("class", "PRIVATE")
    return entry
