from io import BytesIO

import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from followup.exchange import film_store, pictures
from followup.models import FilmImage
from followup.rules.image_files import Limits
from followup.services import films, images
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.exchange.dicom_samples import examined_here
from tests.world import GREYS

pytestmark = pytest.mark.django_db


@pytest.fixture
def image(surgeon: Person, monkeypatch: pytest.MonkeyPatch) -> FilmImage:
    monkeypatch.setattr(images, "examine", examined_here)
    film = films.record_film(
        injury=builders.injury(),
        values={"taken_on": TODAY, "view": "ap"},
        by=surgeon,
        now=NOW,
        today=TODAY,
    )
    sent = ContentFile(pictures.as_png(GREYS))
    return images.add_image(film=film, content=sent, by=surgeon, now=NOW)


@pytest.fixture
def reading(client: Client, film_reader: Person, image: FilmImage) -> tuple[Client, str]:
    client.force_login(film_reader)
    return client, reverse("image-frame", args=[image.pk, 1])


def test_a_frame_is_a_png_that_only_this_browser_keeps(reading: tuple[Client, str]) -> None:
    client, address = reading
    answer = client.get(address)
    assert answer["Content-Type"] == "image/png"
    assert answer["Cache-Control"] == "private, no-cache"
    assert (pictures.read_picture(BytesIO(answer.content), Limits()) == GREYS).all()
    again = client.get(address, headers={"if-none-match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_small_picture_is_a_jpeg_which_the_storage_is_asked_for_once(
    reading: tuple[Client, str], surgeon: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _ = reading
    film = FilmImage.objects.get().film
    wide = np.tile(np.arange(200, dtype=np.uint8), (300, 5))
    image = images.add_image(
        film=film, content=ContentFile(pictures.as_png(wide)), by=surgeon, now=NOW
    )
    address = reverse("image-frame", args=[image.pk, 1]) + "?small=yes"
    answer = client.get(address)
    assert (answer["Content-Type"], answer["Cache-Control"]) == ("image/jpeg", "private, no-cache")
    with Image.open(BytesIO(answer.content)) as small:
        assert small.size == (480, 144)
    monkeypatch.setattr(film_store, "open_file", None)
    assert client.get(address).content == answer.content
    assert client.get(address, headers={"if-none-match": answer["ETag"]}).status_code == 304


def test_black_and_white_are_put_where_asked(reading: tuple[Client, str]) -> None:
    client, address = reading
    answer = client.get(address, {"low": "80", "high": "160"})
    shown = pictures.read_picture(BytesIO(answer.content), Limits())
    assert shown.tolist() == np.array([[0, 0], [255, 255]]).tolist()
    assert answer["ETag"] != client.get(address)["ETag"]
    assert client.get(address, {"low": "9", "high": "2"}).status_code == 400


def test_a_frame_that_is_not_there_is_not_found(
    reading: tuple[Client, str], image: FilmImage
) -> None:
    client, address = reading
    assert client.get(reverse("image-frame", args=[image.pk, 0])).status_code == 404
    assert client.get(reverse("image-frame", args=[image.pk, 2])).status_code == 404
    film_store.drop(image.stored_name)
    assert client.get(address).status_code == 404
