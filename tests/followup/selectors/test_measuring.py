from collections.abc import Callable
from typing import Any

import pytest

from followup.selectors import measuring
from registry.models import Person
from tests.followup.pictured import HEADER, POINTS, RIM, calibrate, film, image, read

pytestmark = pytest.mark.django_db


def test_a_picture_comes_with_what_measuring_on_it_needs(film_reader: Person) -> None:
    shown = measuring.measurable(film_reader, image(**HEADER).pk)
    assert shown is not None
    assert shown.calibrated_by == "not calibrated: ratios only"
    assert [offer.how for offer in shown.offers] == ["geometry"]
    assert len(shown.landmarks) == 10
    assert (shown.points(), shown.own, shown.used, shown.older) == ({}, (), None, 0)


def test_saved_marks_reopen_the_reading(film_reader: Person) -> None:
    picture = image(**HEADER)
    calibrate(picture)
    read(picture, film_reader)
    shown = measuring.measurable(film_reader, picture.pk)
    assert shown is not None
    assert shown.points() == POINTS
    assert shown.scale.column_mm == 0.1
    # On another picture of the film the marks would stand for nothing.
    other = measuring.measurable(film_reader, image(picture.film).pk)
    assert other is not None
    assert other.points() == {}


def test_what_another_read_is_not_shown(film_reader: Person, surgeon: Person) -> None:
    picture = image(**HEADER)
    calibrate(picture)
    read(picture, surgeon)
    shown = measuring.measurable(film_reader, picture.pk)
    assert shown is not None
    assert (shown.own, shown.points()) == ((), {})


def test_readings_with_an_earlier_calibration_are_counted(
    film_reader: Person, surgeon: Person
) -> None:
    picture = image(**HEADER)
    calibrate(picture)
    read(picture, surgeon)
    calibrate(picture, "marker", diameter_mm=25, rim=RIM)
    read(picture, film_reader)
    shown = measuring.measurable(surgeon, picture.pk)
    assert shown is not None
    assert shown.older == 1
    assert "marker of 25 mm" in shown.calibrated_by
    assert any("1 cm" in doubt for doubt in shown.doubts)


def test_a_picture_of_another_site_is_not_there(
    outsider: Person, coordinator: Person, film_reader: Person
) -> None:
    picture = image(film(shows_both_sides=False))
    assert measuring.measurable(outsider, picture.pk) is None
    assert measuring.measurable(coordinator, picture.pk) is None
    shown = measuring.measurable(film_reader, picture.pk)
    assert shown is not None
    assert len(shown.landmarks) == 4


def test_the_page_costs_the_same_whatever_was_read(
    film_reader: Person, counted: Callable[[], Any]
) -> None:
    picture = image(**HEADER)
    calibrate(picture)
    spent = []
    for _ in range(2):
        with counted() as queries:
            shown = measuring.measurable(film_reader, picture.pk)
            assert shown is not None
            assert all(row.origin for row in shown.own)
        spent.append(len(queries))
        for _ in range(5):
            read(picture, film_reader)
    # The roles of the person are asked for once.
    assert spent[1] <= spent[0]
