"""A frame of a stored image as a browser shows it: 8 bits, with black and white where asked for."""

import numpy as np
from django.core.files.base import ContentFile

from followup.exchange import dicom_levels, dicom_pixels, film_store, pictures
from followup.exchange.pictures import Pixels
from followup.models.images import ImageKind, StoredImage
from followup.rules.image_files import Limits

# What lies in our storage was held to the limits when it came, perhaps under others.
NO_LIMITS = Limits(2**40, 2**40, 2**40, 2**40)


def frame_png(image: StoredImage, frame: int, ends: tuple[float, float] | None) -> bytes:
    """Return one frame, the first is 1, as a PNG: black up to the lower end, white from the upper.

    Without ends it is shown as its file says: by its window or table, else by the usual ends. Raises
    FileNotFoundError when the storage has lost the file.
    """
    usual = (image.shown_low, image.shown_high)
    with film_store.open_file(image.stored_name) as source:
        if image.kind == ImageKind.DICOM:
            header, pixels = dicom_pixels.frame_of(source, frame)
            own_way = ends is None and dicom_levels.has_own_way(header)
            shown = dicom_pixels.shown(header, pixels, None if own_way else ends or usual)
            return pictures.as_png(shown)
        if _is_as_shown(image, *(ends or usual)):
            return source.read()
        pixels = pictures.read_picture(source, NO_LIMITS)
    return pictures.as_png(shaded(pixels, *(ends or usual)))


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


def png_file(pixels: Pixels) -> "ContentFile[bytes]":
    """Return pixels as the file in which they are kept."""
    return ContentFile(pictures.as_png(pixels))


def _greys(values: Pixels, low: float, high: float) -> Pixels:
    if high <= low:
        return np.where(values > low, np.uint8(255), np.uint8(0))
    steps = (values.astype(np.float32) - low) * (255 / (high - low))
    greys: Pixels = np.clip(np.rint(steps), 0, 255).astype(np.uint8)
    return greys


def _is_as_shown(image: StoredImage, low: float, high: float) -> bool:
    return (low, high) == (0, 255) and image.most <= 255
