"""Painting boxes into the stored pixels of an image."""

from collections.abc import Sequence
from typing import BinaryIO

from followup.exchange import dicom_pixels, pictures
from followup.exchange.image_frames import NO_LIMITS
from followup.models.images import ImageKind, StoredImage
from followup.rules.image_boxes import Box


def paint_file(image: StoredImage, source: BinaryIO, out: BinaryIO, boxes: Sequence[Box]) -> None:
    """Write the file of an image again, with the boxes black."""
    if image.kind == ImageKind.DICOM:
        edges = [(box.frame, box.left, box.top, box.right, box.bottom) for box in boxes]
        dicom_pixels.paint(source, out, edges)
        return
    pixels = pictures.read_picture(source, NO_LIMITS).copy()
    for box in boxes:
        pixels[box.top : box.bottom, box.left : box.right] = 0
    out.write(pictures.as_png(pixels))
