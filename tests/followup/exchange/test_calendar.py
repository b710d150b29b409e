"""The feed as a calendar program reads it: parsed by another library than the one that writes it."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import vobject

from followup.exchange.calendar import digest_of, render
from followup.rules.calendar_events import Event, starts_at
from tests.followup.rules.test_calendar_events import LONDON, NOW

LONG = "Kontrolle 6 Wochen, zuerst Röntgen, dann Gespräch (A1) für Größe"


def event(**values: Any) -> Event:
    given: dict[str, Any] = {
        "first_slot": 123,
        "sequence": 0,
        "starts": starts_at(date(2026, 10, 26), 9, 30, LONDON),
        "minutes": 20,
        "summary": "6 weeks, film first (K7)",
        "location": "Tuesdays, North Hospital",
        "cancelled": False,
        "changed_at": NOW,
    }
    return Event(**{**given, **values})


def read(*events: Event) -> Any:
    return vobject.readOne(render("Tuesdays", 1, events).decode())


def entry(**values: Any) -> Any:
    return read(event(**values)).vevent


def test_an_event_is_read_as_it_was_written() -> None:
    found = entry()
    assert found.uid.value == "slot-123@site-1.holdfast.invalid"
    assert found.sequence.value == "0"
    assert found.dtstart.value == datetime(2026, 10, 26, 9, 30, tzinfo=UTC)
    assert found.duration.value == timedelta(minutes=20)
    assert found.summary.value == "6 weeks, film first (K7)"
    assert found.location.value == "Tuesdays, North Hospital"
    assert found.status.value == "CONFIRMED"
    assert found.dtstamp.value == found.last_modified.value == NOW


# By the IANA time zone database: half past nine in London on either side of both changes of the clock.
@pytest.mark.parametrize(
    ("on", "utc"),
    [
        (date(2026, 10, 24), "20261024T083000Z"),
        (date(2026, 10, 26), "20261026T093000Z"),
        (date(2026, 3, 28), "20260328T093000Z"),
        (date(2026, 3, 30), "20260330T083000Z"),
    ],
)
def test_the_instant_is_right_on_either_side_of_a_change_of_the_clock(on: date, utc: str) -> None:
    written = render("Tuesdays", 1, [event(starts=starts_at(on, 9, 30, LONDON))]).decode()
    assert f"DTSTART:{utc}\r\n" in written
    found = vobject.readOne(written).vevent.dtstart.value.astimezone(LONDON)
    assert (found.date(), found.hour, found.minute) == (on, 9, 30)


def test_a_cancelled_event_says_so_under_its_name_and_a_higher_number() -> None:
    found = entry(cancelled=True, sequence=4)
    assert found.uid.value == entry().uid.value
    assert (found.status.value, found.sequence.value) == ("CANCELLED", "4")
    assert found.transp.value == "TRANSPARENT"


# RFC 5545, 3.1: this summary has fewer than 75 characters, and more octets.
def test_lines_are_folded_by_octets_and_never_inside_a_letter() -> None:
    line = f"SUMMARY:{LONG}".replace(",", "\\,")
    assert len(line) < 75 < len(line.encode())
    written = render("Tuesdays", 1, [event(summary=LONG)])
    physical = written.split(b"\r\n")
    assert max(len(one) for one in physical) <= 75
    # Each line by itself is whole letters.
    assert [one.decode() for one in physical if one.startswith(b"SUMMARY")]
    assert all(one.decode() for one in physical[:-1])
    assert written.replace(b"\r\n ", b"").decode().count(line) == 1
    assert entry(summary=LONG).summary.value == LONG


@pytest.mark.parametrize(
    "text", ["a; b, c", "back\\slash", "two\nlines", 'said "so": yes', "ü" * 60]
)
def test_what_has_a_meaning_in_the_format_is_escaped(text: str) -> None:
    assert entry(summary=text).summary.value == text


def test_the_calendar_says_its_name_and_how_often_to_ask() -> None:
    written = render("Tuesdays", 1, [event()]).decode()
    assert written.startswith("BEGIN:VCALENDAR\r\n")
    assert written.endswith("END:VCALENDAR\r\n")
    for line in ("VERSION:2.0", "NAME:Tuesdays", "REFRESH-INTERVAL;VALUE=DURATION:PT1H"):
        assert f"\r\n{line}\r\n" in written
    assert "METHOD" not in written
    assert written.replace("\r\n", "").count("\n") == 0


def test_a_calendar_without_events_can_be_read() -> None:
    assert not hasattr(read(), "vevent")


def test_the_digest_changes_with_everything_that_is_written() -> None:
    changes: list[dict[str, Any]] = [
        {},
        {"first_slot": 124},
        {"sequence": 1},
        {"starts": NOW},
        {"minutes": 10},
        {"summary": "another"},
        {"location": "elsewhere"},
        {"cancelled": True},
        {"changed_at": NOW + timedelta(seconds=1)},
    ]
    digests = [digest_of("Tuesdays", 1, [event(**change)]) for change in changes]
    digests += [digest_of("Fridays", 1, [event()]), digest_of("Tuesdays", 2, [event()])]
    assert len(set(digests)) == len(digests)
    assert digest_of("Tuesdays", 1, [event()]) == digests[0]


def test_the_name_of_a_calendar_is_escaped_and_is_one_line() -> None:
    written = render("North; shoulder, late\nclinic", 1, []).decode()
    assert "NAME:North\\; shoulder\\, late clinic\r\n" in written
    assert "X-WR-CALNAME:North\\; shoulder\\, late clinic\r\n" in written
