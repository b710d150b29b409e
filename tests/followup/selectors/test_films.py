"""Which films wait for a reader."""

from datetime import date
from typing import Any

import pytest

from followup.models import Film, Reading, WantedReading
from followup.selectors import films as selector
from followup.services import films, second_readings
from registry.models import Injury, Person
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup import twice

pytestmark = pytest.mark.usefixtures("defaults")


def film(of: Injury | None = None, day: date = TODAY, **values: Any) -> Film:
    hurt = of or builders.procedure().injury
    given = {"taken_on": day, "view": "zanca", **values}
    return films.record_film(injury=hurt, values=given, by=hurt.recorded_by, now=NOW, today=TODAY)


def read(shown: Film, by: Person) -> Reading:
    return films.record_reading(
        film=shown, values={"union": "united"}, reader=by, by=by, now=NOW, today=TODAY
    )


def foreign() -> Film:
    return film(
        builders.procedure(builders.injury(builders.patient(builders.site("south")))).injury
    )


def test_films_that_nobody_read_wait_the_oldest_first(film_reader: Person, surgeon: Person) -> None:
    newer, older, seen = film(), film(day=date(2026, 7, 1)), film()
    read(seen, surgeon)
    foreign()
    assert list(selector.films_to_read(film_reader)) == [older, newer]


def test_a_film_whose_reading_is_void_waits_again(film_reader: Person) -> None:
    shown = film()
    wrong = read(shown, film_reader)
    assert not selector.films_to_read(film_reader).exists()
    Reading.everything.filter(pk=wrong.pk).update(
        voided_at=NOW, voided_by=film_reader, void_reason="another patient's film"
    )
    assert selector.films_to_read(film_reader).get() == shown


def test_others_have_read_what_this_person_has_not(film_reader: Person, surgeon: Person) -> None:
    both, others, _ = film(), film(), film()
    for shown, by in ((both, surgeon), (both, film_reader), (others, surgeon)):
        read(shown, by)
    read(foreign(), surgeon)
    assert list(selector.films_to_read(film_reader, others=True)) == [others]


def test_somebody_without_the_role_has_no_film_to_read(coordinator: Person) -> None:
    shown = film()
    assert not selector.films_to_read(coordinator).exists()
    assert selector.film_to_read(coordinator, shown.pk) is None


def test_a_film_of_another_site_is_not_there(film_reader: Person) -> None:
    own = film()
    assert selector.film_to_read(film_reader, own.pk) == own
    assert selector.film_to_read(film_reader, foreign().pk) is None


def test_the_next_film_is_the_one_below_in_the_list(film_reader: Person) -> None:
    first, second, third = film(day=date(2026, 7, 1)), film(), film()
    assert selector.film_after(film_reader, first) == second
    assert selector.film_after(film_reader, second) == third
    assert selector.film_after(film_reader, third) is None


def test_a_line_names_the_patient_by_key_and_leads_on_only_whom_it_may(
    film_reader: Person, surgeon: Person
) -> None:
    shown = film()
    for who, may in ((film_reader, False), (surgeon, True)):
        (line,) = selector.lines(who, [shown])
        assert (line.key, line.side) == (shown.injury.patient.key, "left")
        assert line.course is may


def test_ones_own_readings_come_with_the_present_one_first(
    film_reader: Person, surgeon: Person
) -> None:
    shown = film()
    first, other, second = read(shown, film_reader), read(shown, surgeon), read(shown, film_reader)
    assert selector.own_readings(shown, film_reader) == [second, first]
    assert selector.own_readings(shown, surgeon) == [other]


def test_who_only_reads_sees_no_reading_but_their_own(film_reader: Person, surgeon: Person) -> None:
    shown = film()
    own, other = read(shown, film_reader), read(shown, surgeon)
    assert list(selector.readings_seen_by(film_reader)) == [own]
    assert set(selector.readings_seen_by(surgeon)) == {own, other}


def test_others_numbers_are_hidden_from_who_has_taken_a_second_reading(
    surgeon: Person, film_reader: Person
) -> None:
    twice.policy()
    shown = film(calibration="marker")
    other = read(shown, film_reader)
    assert list(selector.readings_seen_by(surgeon)) == [other]
    # It waits in its queue, and in no list that shows its key.
    assert not selector.films_to_read(surgeon, others=True).exists()
    row = WantedReading.objects.get()
    second_readings.take(wanted=row, by=surgeon, now=NOW, expected_version=1)
    assert list(selector.readings_seen_by(surgeon)) == []
    own = twice.read(shown, surgeon, None, None)
    assert set(selector.readings_seen_by(surgeon)) == {own, other}
