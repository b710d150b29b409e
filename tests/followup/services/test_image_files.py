from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone

from followup.exchange import film_store
from followup.models import Film, FilmImage, IncomingImage
from followup.services import films
from followup.services.image_files import KEPT_AFTER_VOID, sweep_files
from registry.models import Injury, Person
from registry.services import erasure, records
from tests import builders
from tests.builders import NOW, TODAY
from tests.world import GREYS, kept_image

pytestmark = pytest.mark.django_db


def test_only_files_that_nothing_names_are_cleared_away(surgeon: Person) -> None:
    waiting = kept_image(IncomingImage(site=builders.site()), GREYS, surgeon)
    orphan = film_store.put(ContentFile(b"a row never came"))
    now = timezone.now()
    sweep_files(now=now)
    assert {orphan, waiting.stored_name} <= set(dict(film_store.kept()))
    later = now + timedelta(days=2)
    assert sweep_files(now=later) >= 1
    assert orphan not in dict(film_store.kept())
    records.void(waiting, by=surgeon, now=later, expected_version=1, reason="twice")
    sweep_files(now=later + KEPT_AFTER_VOID - timedelta(minutes=1))
    assert waiting.stored_name in dict(film_store.kept())
    sweep_files(now=later + KEPT_AFTER_VOID + timedelta(minutes=1))
    assert waiting.stored_name not in dict(film_store.kept())


def test_the_pictures_of_who_is_erased_go_at_once(
    surgeon: Person, django_capture_on_commit_callbacks: Any
) -> None:
    hurt, other = builders.injury(), builders.injury()
    images = [
        kept_image(FilmImage(film=films_of(one, surgeon), site=one.site), greys, surgeon)
        for one, greys in ((hurt, GREYS), (other, GREYS.T))
    ]
    waiting = kept_image(IncomingImage(site=hurt.site, injury=hurt), GREYS[::-1], surgeon)
    with django_capture_on_commit_callbacks(execute=True):
        erasure.erase_patient(
            patient=hurt.patient, reason="by letter", by=surgeon, now=NOW, today=TODAY
        )
    kept = set(dict(film_store.kept()))
    assert images[1].stored_name in kept
    assert not {images[0].stored_name, waiting.stored_name} & kept


def films_of(injury: Injury, by: Person) -> Film:
    return films.record_film(
        injury=injury, values={"taken_on": TODAY, "view": "ap"}, by=by, now=NOW, today=TODAY
    )
