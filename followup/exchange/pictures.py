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
