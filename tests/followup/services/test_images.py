import hashlib
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pydicom
import pytest
from django.core.files.base import ContentFile

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange import film_store, pictures
from followup.models import Film, FilmImage, IncomingImage
from followup.rules.image_boxes import Box
from followup.rules.image_files import ImageRefused
from followup.services import films, images
from followup.services.voiding import void_of_injury
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person
from registry.models.identities import HeaderIdentity
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.exchange.dicom_samples import examined_here
from tests.world import GREYS

pytestmark = pytest.mark.django_db
SENT = pictures.as_png(GREYS)
FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))
AT: dict[str, Any] = {"now": NOW}


@pytest.fixture(autouse=True)
def examined_in_this_process(monkeypatch: Any) -> None:
    monkeypatch.setattr(images, "examine", examined_here)


def film(by: Person) -> Film:
    return films.record_film(
        injury=builders.injury(), values={"taken_on": TODAY, "view": "ap"}, by=by, today=TODAY, **AT
    )


def came(by: Person, content: bytes = b"", name: str = "film.dcm") -> IncomingImage:
    sent = ContentFile(content or FILM.dicom(), name)
    return images.take_in_one(site=builders.site(), content=sent, file_name=name, by=by, **AT)


def names() -> set[str]:
    return set(dict(film_store.kept()))


def test_a_picture_is_kept_with_its_facts(surgeon: Person) -> None:
    image = images.add_image(film=film(surgeon), content=ContentFile(SENT), by=surgeon, now=NOW)
    assert (image.rows, image.columns, image.frames, image.kind) == (2, 2, 1, "png")
    assert image.content_hash == hashlib.sha256(SENT).hexdigest()
    assert image.image_facts.pixel_spacing_mm is None
    assert (image.shown_low, image.shown_high) == (0, 255)


def test_the_same_file_twice_is_one_image(surgeon: Person) -> None:
    whose = film(surgeon)
    images.add_image(film=whose, content=ContentFile(SENT), by=surgeon, now=NOW)
    before = names()
    with pytest.raises(ImageRefused, match="there already"):
        images.add_image(film=whose, content=ContentFile(SENT), by=surgeon, now=NOW)
    with pytest.raises(ImageRefused, match="there already"):
        came(surgeon, SENT)
    assert FilmImage.objects.count() == 1
    assert names() == before


def test_a_film_waits_with_what_its_header_says_apart_from_it(coordinator: Person) -> None:
    waiting = came(coordinator)
    assert (waiting.view, waiting.posture, waiting.burnt_in) == ("zanca", "upright", "denied")
    assert waiting.image_facts.taken_on == date(2026, 7, 17)
    header = HeaderIdentity.objects.get(pk=waiting.named_id)
    assert (header.family_name, header.number) == ("Marlowe", "N-004711")
    with film_store.open_file(waiting.stored_name) as kept:
        whole = kept.read()
    assert pydicom.dcmread(BytesIO(whole)).PatientName == ""
    trail = " ".join(f"{entry.before} {entry.after}" for entry in AuditEntry.objects.all())
    for word in ("Marlowe", "Agneta", "004711", "film.dcm"):
        assert word.encode() not in whole
        assert word not in trail


def test_one_that_is_refused_keeps_no_other_out(coordinator: Person) -> None:
    sent = [
        ContentFile(b"%PDF-1.7", "C:\\films\\report.pdf"),
        ContentFile(FILM.dicom(), "film.dcm"),
        ContentFile(FILM.dicom()[:900], "half.dcm"),
        ContentFile(SENT, "shot.png"),
        ContentFile(SENT, "again.png"),
    ]
    taken = images.take_in(site=builders.site(), files=sent, by=coordinator, now=NOW)
    assert [one.file_name for one in taken if one.incoming] == ["film.dcm", "shot.png"]
    faults = {one.file_name: one.fault for one in taken if one.fault}
    assert list(faults) == ["report.pdf", "half.dcm", "again.png"]
    assert "PDF" in faults["report.pdf"]
    assert "waits under 'Films in'" in faults["again.png"]
    assert IncomingImage.objects.count() == 2
    assert HeaderIdentity.objects.count() == 2


def confirmed(waiting: IncomingImage, by: Person, **more: Any) -> FilmImage:
    given = {
        "injury": builders.injury(),
        "film": None,
        "values": {"taken_on": date(2026, 7, 17), "view": "zanca"},
        "expected_version": waiting.version,
        **more,
    }
    return images.confirm(incoming=waiting, by=by, now=NOW, today=TODAY, **given)


def test_a_person_gives_it_to_a_new_film_and_the_header_is_forgotten(surgeon: Person) -> None:
    waiting = came(surgeon)
    image = confirmed(waiting, surgeon)
    assert image.film.view == "zanca"
    assert image.stored_name == waiting.stored_name
    assert image.image_facts == waiting.image_facts
    waiting.refresh_from_db()
    assert waiting.image == image
    assert not HeaderIdentity.objects.exists()
    with pytest.raises(StaleVersion):
        confirmed(waiting, surgeon, expected_version=1, film=image.film, injury=image.film.injury)


def test_it_can_be_given_to_a_film_that_was_recorded_before(surgeon: Person) -> None:
    there = film(surgeon)
    image = confirmed(came(surgeon), surgeon, film=there, injury=there.injury)
    assert list(there.images.all()) == [image]
    assert Film.objects.count() == 1


def test_what_cannot_be_leaves_it_waiting(surgeon: Person) -> None:
    waiting = came(surgeon)
    elsewhere = builders.injury(builders.patient(builders.site("south")))
    with pytest.raises(BadInput, match="another site"):
        confirmed(waiting, surgeon, injury=elsewhere)
    with pytest.raises(BadInput, match="another injury"):
        confirmed(waiting, surgeon, film=film(surgeon))
    later = {"taken_on": TODAY + timedelta(days=1), "view": "ap"}
    with pytest.raises(BadInput, match="in the future"):
        confirmed(waiting, surgeon, values=later)
    waiting.refresh_from_db()
    assert waiting.image is None
    assert HeaderIdentity.objects.count() == 1


def test_a_discarded_one_says_why_and_may_come_again(surgeon: Person) -> None:
    waiting = came(surgeon)
    at = {"by": surgeon, "now": NOW}
    with pytest.raises(BadInput):
        images.discard(incoming=waiting, reason=" ", expected_version=1, **at)
    images.discard(incoming=waiting, reason="not a shoulder", expected_version=1, **at)
    assert not IncomingImage.objects.exists()
    assert not HeaderIdentity.objects.exists()
    assert came(surgeon).pk != waiting.pk


def test_boxes_are_painted_into_the_file_and_the_old_one_goes(
    surgeon: Person, django_capture_on_commit_callbacks: Any
) -> None:
    waiting = came(surgeon)
    before = waiting.stored_name
    with django_capture_on_commit_callbacks(execute=True):
        images.paint_over(
            incoming=waiting, boxes=[Box(0, 0, 0, 20, 10)], expected_version=1, by=surgeon, now=NOW
        )
    waiting.refresh_from_db()
    assert waiting.painted == [[0, 0, 0, 20, 10]]
    assert before not in names()
    with film_store.open_file(waiting.stored_name) as kept:
        values = pydicom.dcmread(BytesIO(kept.read())).pixel_array
    assert len(set(values[:10, :20].ravel())) == 1
    assert (values[10:] == FILM.values[10:]).all()


def test_a_box_that_cannot_be_painted_changes_nothing(surgeon: Person) -> None:
    waiting = came(surgeon)
    before = names()
    at = {"by": surgeon, "now": NOW}
    with pytest.raises(BadInput):
        images.paint_over(incoming=waiting, boxes=[Box(0, 5, 5, 5, 9)], expected_version=1, **at)
    with pytest.raises(StaleVersion):
        images.paint_over(incoming=waiting, boxes=[Box(0, 5, 5, 9, 9)], expected_version=7, **at)
    assert names() == before


def test_a_row_that_cannot_be_saved_leaves_no_file(surgeon: Person, monkeypatch: Any) -> None:
    def fails(*args: Any, **more: Any) -> None:
        raise OSError("the disk is gone")

    before = names()
    monkeypatch.setattr(images.records, "create", fails)
    with pytest.raises(OSError, match="disk"):
        came(surgeon)
    assert names() == before
    assert not IncomingImage.objects.exists()
    assert not HeaderIdentity.objects.exists()


def test_a_file_that_cannot_be_written_leaves_no_row(surgeon: Person, monkeypatch: Any) -> None:
    def fails(*args: Any) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(film_store, "put", fails)
    with pytest.raises(OSError, match="full"):
        came(surgeon)
    assert not IncomingImage.objects.exists()


def test_an_image_of_an_erased_or_wrong_injury_is_void_with_it(surgeon: Person) -> None:
    image = confirmed(came(surgeon), surgeon)
    void_of_injury(injury=image.film.injury, reason="wrong patient", by=surgeon, now=NOW)
    assert not FilmImage.objects.exists()
