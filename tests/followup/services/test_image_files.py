from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone

from followup.exchange import film_store
from followup.models import IncomingImage
from followup.services.image_files import KEPT_AFTER_VOID, sweep_files
from registry.models import Person
from registry.services import records
from tests import builders
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
