from io import BytesIO

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange.burnt_writing import find_writing
from followup.exchange.image_examiner import look_into
from followup.rules.image_files import Limits

Grey = NDArray[np.uint8]
WORDS = "MARLOWE, Agneta 4711"


def film(**drawn: float) -> Grey:
    values = shoulder_films.draw(Shoulders(**drawn)).values  # type: ignore[arg-type]
    return (values >> 4).astype(np.uint8)


def written(grey: Grey, at: tuple[int, int], size: float, fill: int) -> tuple[Grey, list[float]]:
    """Return a picture with words on it, and where the words really are."""
    image = Image.fromarray(grey)
    pen, font = ImageDraw.Draw(image), ImageFont.load_default(size)
    pen.text(at, WORDS, fill=fill, font=font)
    return np.asarray(image), list(pen.textbbox(at, WORDS, font=font))


@pytest.mark.parametrize("noise", [0, 40, 150, 400])
@pytest.mark.parametrize("turned", [0, 9])
def test_a_film_without_writing_is_not_suspected(noise: float, turned: float) -> None:
    assert find_writing(film(noise=noise, rotation_deg=turned)) == ()


@pytest.mark.parametrize("size", [20, 30, 48, 72])
@pytest.mark.parametrize("fill", [255, 235])
def test_bright_writing_is_found_with_a_box_around_all_of_it(size: float, fill: int) -> None:
    picture, (left, top, right, bottom) = written(film(), (40, 30), size, fill)
    (box,) = find_writing(picture)
    assert box[0] <= left
    assert box[1] <= top
    assert box[2] >= right
    assert box[3] >= bottom


def test_dark_writing_on_a_bright_patch_is_found() -> None:
    picture = film()
    picture[440:600, 900:1590] = 255
    told, (left, _, right, _) = written(picture, (950, 480), 36, 0)
    (box,) = find_writing(told)
    assert box[0] <= left
    assert box[2] >= right


def test_writing_on_a_large_film_is_found_where_it_is() -> None:
    large = np.kron(film(), np.ones((4, 4), dtype=np.uint8))
    picture, (left, top, right, bottom) = written(large, (200, 150), 90, 255)
    (box,) = find_writing(picture)
    assert box[0] <= left
    assert box[1] <= top
    assert right <= box[2] < right + 200
    assert bottom <= box[3] < bottom + 200


def test_a_patient_named_in_a_coloured_picture_is_found() -> None:
    picture, _ = written(film(), (40, 30), 30, 0)
    coloured = np.stack([picture, picture, picture], axis=2)
    pen = Image.fromarray(coloured)
    ImageDraw.Draw(pen).text((40, 30), WORDS, fill=(255, 230, 0), font=ImageFont.load_default(30))
    assert len(find_writing(np.asarray(pen))) == 1


def test_grain_is_no_writing_and_does_not_take_long() -> None:
    grain = np.random.default_rng(5).integers(0, 256, (700, 900), dtype=np.uint8)
    assert find_writing(grain) == ()
    assert find_writing(np.where(grain > 127, np.uint8(255), np.uint8(0))) == ()


@pytest.mark.parametrize("photometric", ["MONOCHROME1", "MONOCHROME2"])
def test_a_film_whose_header_denies_it_is_looked_at_all_the_same(photometric: str) -> None:
    drawn = shoulder_films.draw(Shoulders())
    told, _ = written(np.zeros(drawn.values.shape, dtype=np.uint8), (40, 30), 30, 255)
    drawn.values[told > 127] = 4095
    arrival = look_into(BytesIO(drawn.dicom(photometric=photometric)), BytesIO(), Limits())
    assert arrival.burnt_in == "seen"
    assert arrival.facts.writing is not None
    assert len(arrival.facts.writing) == 1
    assert arrival.from_json(arrival.as_json()) == arrival


def test_what_the_header_says_is_not_weakened() -> None:
    drawn = shoulder_films.draw(Shoulders()).with_header(BurnedInAnnotation="YES")
    assert look_into(BytesIO(drawn.dicom()), BytesIO(), Limits()).burnt_in == "said"
