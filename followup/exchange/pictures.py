"""Pictures as they are sent and shown: PNG and JPEG in, grey or coloured pixels, PNG out."""

from io import BytesIO
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

from followup.rules.image_files import ImageRefused, Limits, hold_size

Pixels = NDArray[Any]
# Quick to write; a film hardly becomes smaller by more work.
EFFORT = 1
BROKEN = (
    "This file is cut short or damaged: it cannot be opened to its end. "
    "Export the film again and send that."
)


def read_picture(source: BinaryIO, limits: Limits) -> Pixels:
    """Return the pixels of a PNG or a JPEG as a person sees them, and nothing else of the file.

    Grey pictures have one value for a pixel (8 or 16 bits), coloured ones three of 8 bits. Raises
    ImageRefused for a file that is too large, cut short, damaged or of another kind.
    """
    # The limits are ours and are held before anything is unpacked.
    Image.MAX_IMAGE_PIXELS = None
    try:
        with Image.open(source, formats=("PNG", "JPEG")) as image:
            hold_size(image.height, image.width, 1, limits)
            image.load()
            return _pixels(ImageOps.exif_transpose(image))
    except ImageRefused:
        raise
    except Exception as fault:
        raise ImageRefused(BROKEN) from fault


def as_png(pixels: Pixels) -> bytes:
    """Return pixels as a PNG without anything beside them."""
    written = BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(written, "PNG", compress_level=EFFORT)
    return written.getvalue()


def as_small_jpeg(png: bytes, longest: int) -> bytes:
    """Return a PNG of ours as a JPEG whose longer side has at most so many pixels."""
    written = BytesIO()
    with Image.open(BytesIO(png), formats=("PNG",)) as image:
        image.thumbnail((longest, longest), reducing_gap=2)
        image.save(written, "JPEG", quality=80)
    return written.getvalue()


def shaded(pixels: Pixels, low: float, high: float) -> Pixels:
    """Return pixels of 8 bits: black up to `low`, white from `high`, even steps between.

    Where low and high are the same, what lies above is white.
    """
    if pixels.dtype == np.uint8 and (low, high) == (0, 255):
        return pixels
    if pixels.dtype in (np.uint8, np.uint16):
        # One look into a table for each pixel, which needs no number of more bits on the way.
        table = _greys(np.arange(np.iinfo(pixels.dtype).max + 1), low, high)
        return np.take(table, pixels)
    return _greys(pixels, low, high)


def _pixels(image: Image.Image) -> Pixels:
    if image.mode.startswith("I"):
        values = np.asarray(image)
        if values.min() < 0 or values.max() > 65535:
            raise ImageRefused(
                "This picture has values beyond 16 bits. Export it with 8 or 16 bits and send that."
            )
        return values.astype(np.uint16)
    if image.mode.startswith("F"):
        raise ImageRefused(
            "This picture has broken numbers for pixels. Export it with 8 or 16 bits and send that."
        )
    # Grey or coloured, without what else the file keeps for a pixel; what has a palette is coloured.
    base = "RGB" if image.mode.startswith("P") else Image.getmodebase(image.mode)
    values = np.asarray(image.convert(base))
    if values.ndim == 3 and _is_grey(values):
        return np.ascontiguousarray(values[:, :, 0])
    return values


def _is_grey(values: Pixels) -> bool:
    red = values[:, :, 0]
    return bool((red == values[:, :, 1]).all() and (red == values[:, :, 2]).all())


def _greys(values: Pixels, low: float, high: float) -> Pixels:
    if high <= low:
        return np.where(values > low, np.uint8(255), np.uint8(0))
    steps = (values.astype(np.float32) - low) * (255 / (high - low))
    greys: Pixels = np.clip(np.rint(steps), 0, 255).astype(np.uint8)
    return greys
