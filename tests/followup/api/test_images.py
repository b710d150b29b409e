"""Pictures of films over the interface: sent, waiting, seen, with what they are measured by."""

import io
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange.image_examiner import examine
from followup.models import FilmImage, IncomingImage
from followup.services import films, images, measuring
from registry.models import Person
from tests import builders
from tests.api import Program, cost, signed_in
from tests.followup.exchange.dicom_samples import examined_here

pytestmark = pytest.mark.django_db
IMAGES, WAITING = "/api/v1/film-images/", "/api/v1/films-in/"
FILM = shoulder_films.draw(Shoulders(rows=600, columns=900, imager_spacing_mm=0.3))


@pytest.fixture
def api(surgeon: Person) -> Program:
    return signed_in(surgeon)


@pytest.fixture(autouse=True)
def examined_in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Examine what is sent in this process; one test does without."""
    monkeypatch.setattr(images, "examine", examined_here)


def kept(by: Person, seed: int = 7) -> FilmImage:
    film = films.record_film(
        injury=builders.injury(),
        values={"taken_on": builders.TODAY, "view": "zanca", "shows_both_sides": True},
        by=by,
        now=builders.NOW,
        today=builders.TODAY,
    )
    drawn = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0, seed=seed))
    return images.add_image(film=film, content=ContentFile(drawn.dicom()), by=by, now=builders.NOW)


def sent(api: Program, content: bytes, **said: Any) -> Any:
    file = SimpleUploadedFile("marlowe.dcm", content)
    return api.post(WAITING, {"site": "north", "file": file, **said}, format="multipart")


def test_a_film_is_sent_and_waits_without_a_name(
    api: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(images, "examine", examine)
    answer = sent(api, FILM.dicom())
    assert answer.status_code == 201, answer.content
    told = answer.json()
    assert (told["site"], told["view"], told["burnt_in"]) == ("north", "zanca", "denied")
    assert (told["rows"], told["columns"]) == (600, 900)
    for name in ("Marlowe", "Agneta", "N-004711", "marlowe.dcm", "1971"):
        assert name not in answer.content.decode()
    assert [one["id"] for one in api.get(WAITING).json()["results"]] == [told["id"]]
    assert not FilmImage.objects.exists()


@pytest.mark.parametrize(
    ("content", "said", "field", "words"),
    [
        (b"hello", {}, "file", "neither DICOM nor PNG nor JPEG"),
        (FILM.dicom()[:5000], {}, "file", "cut short"),
        (FILM.dicom(), {"site": "south"}, "site", "does not exist"),
        (FILM.dicom(), {"burnt_in": "denied"}, "burnt_in", ""),
        (FILM.dicom(), {"patinet": "x"}, "patinet", "There is no such field"),
    ],
)
def test_what_cannot_be_taken_is_refused_by_its_field(
    api: Program, content: bytes, said: dict[str, str], field: str, words: str
) -> None:
    builders.site("south")
    answer = sent(api, content, **said)
    if field == "burnt_in":
        # What the file and its look say is not for the sender to decide.
        assert answer.status_code == 201
        return
    assert answer.status_code == 400
    assert words in answer.json()["faults"][field][0]
    assert not IncomingImage.objects.exists()


def test_the_same_file_twice_is_one(api: Program) -> None:
    assert sent(api, FILM.png()).status_code == 201
    answer = sent(api, FILM.png())
    assert (answer.status_code, IncomingImage.objects.count()) == (400, 1)
    assert "came in before" in answer.json()["faults"]["file"][0]


def test_a_picture_tells_how_it_is_measured_and_shows_its_frames(
    api: Program, surgeon: Person
) -> None:
    image = kept(surgeon)
    assert api.get(f"{IMAGES}{image.pk}/").json()["calibration"] is None
    measuring.calibrate(image=image, how="magnification", by=surgeon, now=builders.NOW)
    told = api.get(f"{IMAGES}{image.pk}/").json()
    assert told["film"] == image.film_id
    scale = told["calibration"]
    assert (scale["how"], scale["true_mm"]) == ("magnification", True)
    assert scale["mm_per_pixel_row"] == pytest.approx(2.0 / 1.1)
    whole = api.get(f"{IMAGES}{image.pk}/frames/1/")
    assert whole["Content-Type"] == "image/png"
    with Image.open(io.BytesIO(whole.content)) as picture:
        assert picture.size == (90, 60)
    assert api.get(f"{IMAGES}{image.pk}/frames/2/").status_code == 404
    assert api.get(f"{IMAGES}{image.pk}/frames/1/?low=x").status_code == 400


def test_the_list_costs_the_same_however_long(
    api: Program, surgeon: Person, counted: Callable[[], Any]
) -> None:
    for seed in range(2):
        kept(surgeon, seed)
    few = cost(api, IMAGES, counted)
    for seed in range(2, 8):
        kept(surgeon, seed)
    assert cost(api, IMAGES, counted) == few
