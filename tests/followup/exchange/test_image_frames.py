"""A frame of a stored picture as a browser shows it."""

from io import BytesIO

import numpy as np
import pytest

from followup.exchange import film_store
from followup.exchange.image_frames import frame_png, png_file
from followup.exchange.pictures import read_picture
from followup.rules.image_files import Limits
from tests.followup.pictured import image

pytestmark = pytest.mark.django_db


def test_pixels_are_kept_without_loss() -> None:
    pixels = np.array([[0, 7, 255]], dtype=np.uint8)
    assert read_picture(BytesIO(png_file(pixels).read()), Limits()).tolist() == pixels.tolist()


def test_a_picture_that_is_as_it_is_shown_is_the_file_itself() -> None:
    kept = image()
    kept.shown_low, kept.shown_high = 0, 255
    with film_store.open_file(kept.stored_name) as source:
        assert frame_png(kept, 1, None) == source.read()


def test_black_and_white_are_where_asked_for() -> None:
    kept = image(rows=2, columns=9)
    shown = read_picture(BytesIO(frame_png(kept, 1, (-10, 10))), Limits())
    # Its pixels are 0 and 1: halfway between the ends, and a little above.
    assert set(shown.ravel().tolist()) <= {128, 140}
