from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.calendar_events import Slot, events_of, starts_at, summary

NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)
LONDON = ZoneInfo("Europe/London")


def slot(number: int, review: int = 1, **values: Any) -> Slot:
    given_values: dict[str, Any] = {
        "starts": NOW + timedelta(days=number),
        "minutes": 10,
        "state": "booked",
        "changes": 1,
        "changed_at": NOW,
        "here": True,
        "summary": "6 weeks",
        "location": "Tuesdays",
    }
    return Slot(id=number, review=review, **{**given_values, **values})


# By the IANA time zone database: half past nine in London on either side of both changes of the clock.
@pytest.mark.parametrize(
    ("on", "utc"),
    [
        (date(2026, 10, 24), "08:30"),
        (date(2026, 10, 26), "09:30"),
        (date(2026, 3, 28), "09:30"),
        (date(2026, 3, 30), "08:30"),
    ],
)
def test_a_time_of_day_is_the_sites_own_on_either_side_of_a_change(on: date, utc: str) -> None:
    assert f"{starts_at(on, 9, 30, LONDON).astimezone(UTC):%H:%M}" == utc


def test_the_summary_says_the_step_the_film_and_the_key() -> None:
    assert summary("6 weeks", film_first=True, key="K7") == "6 weeks, film first (K7)"
    assert summary("1 year", film_first=False, key="K7", name="A, B") == "1 year: A, B (K7)"


def test_a_review_that_is_booked_anew_keeps_its_event() -> None:
    (event,) = events_of([slot(3, state="cancelled", changes=2), slot(4)], NOW)
    assert (event.first_slot, event.starts, event.cancelled) == (3, slot(4).starts, False)
    assert event.sequence == 3


def test_a_slot_that_was_missed_or_kept_stays_and_the_next_is_another_event() -> None:
    for state in ("missed", "kept"):
        one, two = events_of([slot(3, state=state), slot(4)], NOW)
        assert (one.first_slot, two.first_slot) == (3, 4)
        assert not one.cancelled


def test_an_event_that_moves_to_another_calendar_is_cancelled_in_the_first() -> None:
    chain = [slot(3, state="cancelled", changes=2), slot(4, here=False)]
    (here,) = events_of(chain, NOW)
    assert (here.cancelled, here.starts, here.first_slot) == (True, slot(3).starts, 3)
    there = [slot(3, state="cancelled", changes=2, here=False), slot(4)]
    (other,) = events_of(there, NOW)
    assert (other.cancelled, other.first_slot, other.sequence) == (False, 3, here.sequence)


def test_a_cancelled_event_goes_on_saying_so_for_sixty_days() -> None:
    for days, shown in ((60, True), (61, False)):
        gone = slot(3, state="cancelled", changed_at=NOW - timedelta(days=days))
        assert bool(events_of([gone], NOW)) is shown


def test_what_is_over_is_shown_for_four_weeks() -> None:
    for days, shown in ((28, True), (29, False)):
        past = slot(3, starts=NOW - timedelta(days=days), state="kept")
        assert bool(events_of([past], NOW)) is shown


@given(st.lists(st.sampled_from(["cancelled", "kept", "missed"]), max_size=6))
def test_booking_once_more_never_takes_an_events_name_and_raises_its_number(
    states: list[str],
) -> None:
    """Whatever came before, a further slot adds an event or moves the last one on."""
    before = [slot(n, state=state, changes=2) for n, state in enumerate(states)]
    then = [*before, slot(len(states))]
    old = {event.first_slot: event for event in events_of(before, NOW)}
    new = {event.first_slot: event for event in events_of(then, NOW)}
    assert set(old) <= set(new)
    changed = [name for name in old if new[name] != old[name]]
    assert all(new[name].sequence > old[name].sequence for name in changed)
    assert len(changed) <= 1
