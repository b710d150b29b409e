"""The drawn pictures of the invented service: nobody is named in them, and they measure as was read."""

import pytest

from analytics.simulation import shoulder_films
from config.demo import drawn
from config.demo.load import Wanted, load
from followup.exchange import film_store
from followup.models import FilmImage, IncomingImage, Reading
from followup.rules import calibration, landmarks
from followup.selectors import images
from registry.models import Person
from registry.models.identities import Identity
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_pictures_of_films_measure_as_was_read_and_name_nobody() -> None:
    load(Wanted(procedures=90), now=NOW, today=TODAY, whole=True)
    kept = list(FilmImage.objects.select_related("film__injury"))
    assert len(kept) >= 8
    names = {name.encode() for name in Identity.objects.values_list("family_name", flat=True)}
    measured = 0
    for image in kept:
        with film_store.open_file(image.stored_name) as source:
            content = source.read()
        assert not [name for name in names if name in content]
        read = Reading.objects.filter(
            film=image.film, superseded_by__isnull=True, ccd_injured_mm__isnull=False
        ).first()
        scale = next(iter(calibration.from_header(image.image_facts)), None)
        if read is None or scale is None or not image.film.shows_both_sides:
            continue
        points = shoulder_films.draw(drawn.shoulders_of(image.film)).landmarks
        found = landmarks.measure(points, scale)
        assert found.injured.ccd_mm == pytest.approx(float(read.ccd_injured_mm or 0), abs=0.05)
        measured += 1
    assert measured >= 2
    _what_came_in_is_offered_to_whom_its_header_names()


def _what_came_in_is_offered_to_whom_its_header_names() -> None:
    coordinator = Person.objects.get(username="coordinator")
    waiting = list(IncomingImage.objects.all())
    assert waiting
    for line in images.waiting_lines(coordinator, waiting):
        offered = images.offered(coordinator, line.image, line.named)
        assert line.named.family_name in {one.patient.identity.family_name for one in offered}
