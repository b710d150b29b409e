import pytest

from followup.models import FilmImage
from followup.selectors.images import image_seen_by, levels_of
from followup.services import films
from registry.models import Person
from registry.services import records
from tests import builders
from tests.builders import NOW, TODAY
from tests.world import GREYS, kept_image

pytestmark = pytest.mark.django_db


def test_a_picture_is_seen_at_its_site_while_its_film_stands(
    surgeon: Person, film_reader: Person, coordinator: Person, outsider: Person
) -> None:
    film = films.record_film(
        injury=builders.injury(),
        values={"taken_on": TODAY, "view": "ap"},
        by=surgeon,
        now=NOW,
        today=TODAY,
    )
    image = kept_image(FilmImage(film=film, site=film.site), GREYS, surgeon)
    assert image_seen_by(surgeon, image.pk) == image_seen_by(film_reader, image.pk) == image
    assert image_seen_by(coordinator, image.pk) is None
    assert image_seen_by(outsider, image.pk) is None
    assert levels_of(image).shown_high == 255
    records.void(film, by=surgeon, now=NOW, expected_version=1, reason="another patient's")
    assert image_seen_by(surgeon, image.pk) is None
