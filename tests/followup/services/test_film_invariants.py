"""Files that are gone, that were changed or that nobody names, and broken lines of corrections, are found."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile

from followup.exchange import film_store
from followup.models import FilmImage, Reading
from followup.services import films
from followup.services.film_invariants import NIGHTS, _is_its_turn, _unnamed
from registry.services.invariants import Files, Looking
from tests.builders import NOW, TODAY
from tests.damage import LOOKED_AT, broken, sql

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ("stored_name = 'zz/gone'", "its file is not there"),
        ("file_bytes = file_bytes + 1", "bytes and was kept with"),
        ("file_sha256 = 'another'", "its file is not the one that was kept"),
    ],
)
def test_a_file_that_is_not_what_was_kept_is_found(
    damaging: dict[str, Any], change: str, what: str
) -> None:
    key = damaging["image_id"]
    assert sql(f"UPDATE followup_filmimage SET {change} WHERE id = %s", key) == 1
    found = broken()
    assert list(found) == ["film_files"]
    assert found["film_files"][0].startswith(f"followup_filmimage {key}: ")
    assert what in found["film_files"][0]


def test_a_flipped_byte_is_found(damaging: dict[str, Any], tmp_path: Any, settings: Any) -> None:
    image = FilmImage.objects.get(pk=damaging["image_id"])
    with film_store.open_file(image.stored_name) as source:
        content = bytearray(source.read())
    content[-1] ^= 1
    fresh = film_store.put(ContentFile(bytes(content)))
    sql("UPDATE followup_filmimage SET stored_name = %s WHERE id = %s", fresh, image.pk)
    try:
        assert broken() == {
            "film_files": [f"followup_filmimage {image.pk}: its file is not the one that was kept"]
        }
    finally:
        film_store.drop(fresh)


def test_every_file_has_its_night() -> None:
    nights = [Looking(NOW + timedelta(days=day), Files.SHARE) for day in range(NIGHTS)]
    for key in (1, 27, 28, 1000):
        assert sum(_is_its_turn(key, night) for night in nights) == 1
    assert not _is_its_turn(1, Looking(NOW, Files.NONE))


def unnamed(later: timedelta) -> set[str]:
    found = _unnamed(Looking(LOOKED_AT + later))
    return {breach.where.removeprefix("file ") for breach in found}


@pytest.mark.usefixtures("damaging")
def test_a_file_that_no_row_names_is_found_when_it_is_old() -> None:
    stray = film_store.put(ContentFile(b"a film of nobody"))
    since = dict(film_store.kept())[stray] - LOOKED_AT
    try:
        # Files of other tests may lie about, and a finding tells the first of many.
        assert stray not in unnamed(since + timedelta(hours=47))
        assert stray in unnamed(since + timedelta(hours=49))
        told = broken(since + timedelta(hours=49))["film_files_named"][0]
        assert told.endswith(": no row names it, and it is older than a day")
    finally:
        film_store.drop(stray)


def corrected(damaging: dict[str, Any]) -> tuple[Reading, Reading]:
    first = Reading.objects.get(pk=damaging["reading_id"])
    films.record_reading(
        film=first.film,
        values={"ccd_injured_mm": "9.9"},
        reader=first.reader,
        by=first.reader,
        now=NOW,
        today=TODAY,
    )
    first.refresh_from_db()
    return first, first.superseded_by


def test_a_line_of_corrections_that_runs_in_a_ring_is_found(damaging: dict[str, Any]) -> None:
    first, second = corrected(damaging)
    assert broken() == {}
    query = "UPDATE followup_reading SET superseded_by_id = %s WHERE id = %s"
    sql(query, first.pk, second.pk)
    found = broken()
    assert list(found) == ["corrections"]
    assert found["corrections"][0] == (
        f"followup_reading {second.pk}: what corrects it is older than itself"
    )


def test_a_picture_that_became_another_file_is_found(damaging: dict[str, Any]) -> None:
    key = damaging["incoming_id"]
    query = "UPDATE followup_incomingimage SET image_id = %s WHERE id = %s"
    assert sql(query, damaging["image_id"], key) == 1
    assert broken() == {
        "arrivals": [
            f"followup_incomingimage {key}: it became a picture of another file",
            f"followup_incomingimage {key}: it was decided, and whom its header names is still kept",
        ]
    }
