import hashlib

import pytest
from django.core.files.base import ContentFile

from followup.exchange import film_store, pictures
from followup.models import Film, FilmImage
from followup.rules.image_files import ImageRefused
from followup.services import films, images
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY
from tests.world import GREYS

pytestmark = pytest.mark.django_db
SENT = pictures.as_png(GREYS)


def film(by: Person) -> Film:
    return films.record_film(
        injury=builders.injury(),
        values={"taken_on": TODAY, "view": "ap"},
        by=by,
        now=NOW,
        today=TODAY,
    )


def test_a_picture_is_kept_with_its_facts(surgeon: Person) -> None:
    image = images.add_image(film=film(surgeon), content=ContentFile(SENT), by=surgeon, now=NOW)
    assert (image.rows, image.columns, image.frames, image.kind) == (2, 2, 1, "png")
    assert image.content_hash == hashlib.sha256(SENT).hexdigest()
    assert image.image_facts.pixel_spacing_mm is None
    assert (image.shown_low, image.shown_high) == (0, 255)


def test_the_same_file_twice_is_one_image(surgeon: Person) -> None:
    whose = film(surgeon)
    images.add_image(film=whose, content=ContentFile(SENT), by=surgeon, now=NOW)
    before = set(dict(film_store.kept()))
    with pytest.raises(ImageRefused, match="there already"):
        images.add_image(film=whose, content=ContentFile(SENT), by=surgeon, now=NOW)
    assert FilmImage.objects.count() == 1
    assert set(dict(film_store.kept())) == before
