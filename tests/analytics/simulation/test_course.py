"""What becomes of a case up to a day."""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import date, timedelta
from typing import Any

from analytics.simulation import mishaps
from analytics.simulation.cohort import generate
from analytics.simulation.course import SYMPTOMS_NOTED_AT

UNTIL = date(2026, 11, 25)
CASES = list(generate(3000, sites=2, seed=8, until=UNTIL))
# What lies ahead by its nature: bookings, wishes, expiry of what was implanted, and an injury of
# which only the month is known.
AHEAD = {"bookings", "wish_on", "deferred_until", "expires_on"}


def dates_in(value: Any) -> Iterator[date]:
    """Yield every date in a record, however deep, but those that lie ahead."""
    if isinstance(value, date):
        yield value
    elif is_dataclass(value) and not isinstance(value, type):
        for one in fields(value):
            if one.name not in AHEAD:
                yield from dates_in(getattr(value, one.name))
    elif isinstance(value, dict):
        for name, inner in value.items():
            if name not in AHEAD:
                yield from dates_in(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from dates_in(inner)


def test_nothing_has_happened_after_the_last_day() -> None:
    assert max(max(dates_in(case)) for case in CASES) <= UNTIL
    assert min(booking.on for case in CASES for booking in case.bookings) >= UNTIL


def test_everything_found_comes_after_the_operation() -> None:
    for case in CASES:
        days = [visit.on for visit in case.visits] + [one.on for one in case.later]
        days += [event["detected_on"] for event in case.complications]
        assert all(day >= case.performed_on for day in days)
        assert [visit.on for visit in case.visits] == sorted(visit.on for visit in case.visits)


def test_nobody_is_seen_after_death_or_leaving() -> None:
    ended = [case for case in CASES if case.status != "active"]
    assert {case.status for case in ended} == {"died", "withdrawn", "moved"}
    for case in ended:
        assert case.status_on is not None
        days = [visit.on for visit in case.visits] + [one.on for one in case.later]
        days += [one.on for one in case.missed] + [one.on for one in case.attempts]
        assert all(day < case.status_on for day in days)
        assert case.bookings == ()


def test_films_after_a_loss_show_it_and_films_before_do_not() -> None:
    for case in CASES:
        first = case.true_loss_day
        films = [visit.film for visit in case.visits if visit.film is not None]
        for film in films:
            lost = first is not None and (film.taken_on - case.performed_on).days >= first
            rise = film.true_ccd_mm - min(one.true_ccd_mm for one in films)
            if not lost:
                assert rise < 3
            elif not films or (films[0].taken_on - case.performed_on).days < (first or 0):
                assert rise > 3


def test_symptoms_are_noted_at_a_late_visit_while_the_implant_is_in() -> None:
    noted = [case for case in CASES if case.symptomatic_on is not None]
    assert noted
    for case in noted:
        visit = next(one for one in case.visits if one.on == case.symptomatic_on)
        assert visit.step in SYMPTOMS_NOTED_AT
        assert visit.hardware_in_place


def test_a_question_of_removal_is_settled_by_its_removal_or_stands_open() -> None:
    asked = [case for case in CASES if case.decision is not None]
    assert asked
    for case in asked:
        assert case.decision is not None
        removal = case.first_later("implant_removal")
        assert (case.decision.state == "done") == (removal is not None)
        assert removal is None or case.decision.decided_on == removal.on
    for case in CASES:
        is_over = case.status != "active" or case.first_later("revision_fixation") is not None
        if is_over and case.first_later("implant_removal") is None:
            assert case.decision is None


def test_hooks_long_in_place_have_been_asked_about() -> None:
    old = [
        case
        for case in CASES
        if case.construct_type == "HP"
        and case.status == "active"
        and case.first_later("revision_fixation") is None
        and case.performed_on + timedelta(days=90) < UNTIL
    ]
    assert old
    assert all(case.decision is not None for case in old)


def test_nobody_has_an_implant_removed_without_a_film_days_before() -> None:
    removed = [(case, case.first_later("implant_removal")) for case in CASES]
    known = [(case, later.on) for case, later in removed if later is not None]
    assert known
    for case, on in known:
        films = [one.film.taken_on for one in case.visits if one.film is not None]
        assert on - timedelta(days=mishaps.FILM_BEFORE_DAYS) in films


def test_a_hook_plate_stays_until_its_fracture_has_united_if_it_does() -> None:
    removed = [
        (case, case.first_later("implant_removal"))
        for case in CASES
        if case.construct_type == "HP" and case.injury["kind"] == "lateral_clavicle"
    ]
    known = [(case, later.on) for case, later in removed if later is not None]
    united = [(case, on) for case, on in known if case.true_union_day is not None]
    assert len(united) > 20
    for case, on in united:
        assert case.true_union_day is not None
        waited = (on - case.performed_on).days - case.true_union_day
        assert waited >= mishaps.THEATRE_AFTER_UNION_DAYS
        last = [one.film for one in case.visits if one.film and one.on <= on][-1]
        assert last.readings[0].union == "united"
