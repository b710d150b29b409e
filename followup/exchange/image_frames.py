"""A frame of a stored image as a browser shows it: 8 bits, with black and white where asked for."""

from django.core.cache import cache
from django.core.files.base import ContentFile

from followup.exchange import dicom_levels, dicom_pixels, film_store, pictures
from followup.exchange.pictures import Pixels
from followup.models.images import ImageKind, StoredImage
from followup.rules.image_files import Limits

# What lies in our storage was held to the limits when it came, perhaps under others.
NO_LIMITS = Limits(2**40, 2**40, 2**40, 2**40)
# The longer side of a small picture.
SMALL_PX = 480
SMALL_KEPT_SECONDS = 24 * 60 * 60


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
    return pictures.as_png(pictures.shaded(pixels, *(ends or usual)))


def small_picture(image: StoredImage, frame: int) -> bytes:
    """Return one frame as its file shows it, small, as a JPEG: for telling films apart, not for reading.

    It is kept in the cache under the picture's stored name, which is drawn anew when it is painted over.
    Raises FileNotFoundError when the storage has lost the file.
    """
    key = f"small-film:{image.stored_name}:{frame}"
    kept: bytes | None = cache.get(key)
    if kept is None:
        kept = pictures.as_small_jpeg(frame_png(image, frame, None), SMALL_PX)
        cache.set(key, kept, SMALL_KEPT_SECONDS)
    return kept


def png_file(pixels: Pixels) -> "ContentFile[bytes]":
    """Return pixels as the file in which they are kept."""
    return ContentFile(pictures.as_png(pixels))


def _is_as_shown(image: StoredImage, low: float, high: float) -> bool:
    return (low, high) == (0, 255) and image.most <= 255
