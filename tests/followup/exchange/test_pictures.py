from io import BytesIO

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from followup.exchange.pictures import as_png, read_picture, shaded
from followup.rules.image_files import ImageRefused, Limits

RNG = np.random.default_rng(11)
GREY = RNG.integers(0, 256, (20, 30), dtype=np.uint8)
DEEP = RNG.integers(0, 65536, (20, 30), dtype=np.uint16)
COLOUR = RNG.integers(0, 256, (20, 30, 3), dtype=np.uint8)


@pytest.mark.parametrize("pixels", [GREY, DEEP, COLOUR], ids=["8 bits", "16 bits", "colour"])
def test_pixels_come_back_as_they_were_written(pixels: NDArray[np.generic]) -> None:
    again = read_picture(BytesIO(as_png(pixels)), Limits())
    assert again.dtype == pixels.dtype
    assert (again == pixels).all()


def test_grey_kept_in_colours_is_grey() -> None:
    grey = np.repeat(GREY[:, :, None], 3, axis=2)
    assert (read_picture(BytesIO(as_png(grey)), Limits()) == GREY).all()


def test_a_palette_is_looked_up() -> None:
    written = BytesIO()
    indexed = Image.fromarray(np.array([[0, 1]], dtype=np.uint8)).convert("P")
    indexed.putpalette([9, 9, 9, 200, 100, 50])
    indexed.save(written, "PNG")
    assert read_picture(written, Limits()).tolist() == [[[9, 9, 9], [200, 100, 50]]]


def test_a_photograph_is_turned_as_its_camera_says() -> None:
    written, exif = BytesIO(), Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(GREY).save(written, "PNG", exif=exif)
    written.seek(0)
    assert (read_picture(written, Limits()) == np.rot90(GREY, -1)).all()


def test_a_jpeg_is_read() -> None:
    written = BytesIO()
    Image.fromarray(np.full((16, 16), 90, dtype=np.uint8)).save(written, "JPEG")
    written.seek(0)
    assert abs(read_picture(written, Limits()).astype(int) - 90).max() <= 2


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_file_that_is_cut_short_is_refused(kind: str) -> None:
    written = BytesIO()
    Image.fromarray(RNG.integers(0, 256, (200, 300), dtype=np.uint8)).save(written, kind)
    with pytest.raises(ImageRefused, match="cut short or damaged"):
        read_picture(BytesIO(written.getvalue()[: len(written.getvalue()) // 2]), Limits())


def test_a_small_file_that_claims_a_huge_picture_is_refused_before_it_is_unpacked() -> None:
    written = BytesIO()
    Image.new("1", (20_000, 20_000)).save(written, "PNG")
    assert len(written.getvalue()) < 100_000
    with pytest.raises(ImageRefused, match="20000 by 20000 pixels"):
        read_picture(written, Limits())


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.int16, np.float32])
def test_values_are_shaded_evenly_between_black_and_white(kind: type) -> None:
    values = np.array([[0, 10, 20, 35, 60, 110, 120]], dtype=kind)
    # Worked by hand: (value - 10) / 100 * 255, held between 0 and 255.
    assert shaded(values, 10, 110).tolist() == [[0, 0, 26, 64, 128, 255, 255]]


def test_one_value_alone_is_shown_and_divides_by_nothing() -> None:
    assert shaded(np.array([[5, 7]], dtype=np.uint16), 5, 5).tolist() == [[0, 255]]
