"""Which files are images that can be taken: kind by content, and how large they may be."""

from dataclasses import dataclass
from typing import Literal

from registry.errors import BadInput

Kind = Literal["dicom", "png", "jpeg"]
# So many bytes at the start tell the kind: DICOM's mark stands after 128 bytes of preamble.
START = 132
PNG_MARK = b"\x89PNG\r\n\x1a\n"
JPEG_MARK = b"\xff\xd8\xff"
DICOM_MARK = b"DICM"
# What people send instead, and what to do about it.
NOT_TAKEN = (
    (b"%PDF", "a PDF: export the film itself from the archive, as DICOM, PNG or JPEG"),
    (b"PK\x03\x04", "an archive or an office document: unpack it and send the films in it"),
    (b"GIF8", "a GIF: export the film as DICOM, PNG or JPEG"),
    (b"BM", "a bitmap: export the film as DICOM, PNG or JPEG"),
    (b"II*\x00", "a TIFF: export the film as DICOM, PNG or JPEG"),
    (b"MM\x00*", "a TIFF: export the film as DICOM, PNG or JPEG"),
    (b"<", "a web page or a drawing: export the film as DICOM, PNG or JPEG"),
    (b"RIFF", "a WebP picture or a recording: export the film as DICOM, PNG or JPEG"),
)


class ImageRefused(BadInput):
    """A file that cannot be taken as an image; its text says why and what to do."""


@dataclass(frozen=True)
class Limits:
    """The largest file that is taken: bytes, pixels of one frame, frames, pixels of all frames."""

    most_bytes: int = 200_000_000
    most_pixels: int = 64_000_000
    most_frames: int = 200
    most_pixels_in_all: int = 128_000_000


def kind_of(start: bytes) -> Kind:
    """Say what a file is by its first bytes, whatever it is called.

    Raises ImageRefused, saying what it seems to be, for anything but DICOM, PNG and JPEG.
    """
    if not start:
        raise ImageRefused("This file is empty. Export the film again and send that.")
    if start[128:132] == DICOM_MARK:
        return "dicom"
    if start.startswith(PNG_MARK):
        return "png"
    if start.startswith(JPEG_MARK):
        return "jpeg"
    for mark, words in NOT_TAKEN:
        if start.startswith(mark):
            raise ImageRefused(f"This is {words}.")
    raise ImageRefused(
        "This is neither DICOM nor PNG nor JPEG, whatever its name says. "
        "Export the film from the archive as one of these and send that."
    )


def hold_bytes(size: int, limits: Limits) -> None:
    """Raise ImageRefused when a file has more bytes than are taken."""
    if size > limits.most_bytes:
        raise ImageRefused(
            f"This file has {size / 1e6:.0f} MB; up to {limits.most_bytes / 1e6:.0f} MB are taken. "
            "Send single films, not a whole examination."
        )


def hold_size(rows: int, columns: int, frames: int, limits: Limits) -> None:
    """Raise ImageRefused when an image is empty or larger than what is opened at all.

    Asked by what the file says of itself before a single pixel is unpacked: a file of a few kilobytes
    can claim gigabytes.
    """
    if rows < 1 or columns < 1 or frames < 1:
        raise ImageRefused("This file holds no picture. Export the film again and send that.")
    if rows * columns > limits.most_pixels:
        raise ImageRefused(
            f"This image claims {columns} by {rows} pixels; up to "
            f"{limits.most_pixels / 1e6:.0f} million are opened. Export it smaller and send that."
        )
    if frames > limits.most_frames or rows * columns * frames > limits.most_pixels_in_all:
        raise ImageRefused(
            f"This file claims {frames} pictures of {columns} by {rows} pixels; up to "
            f"{limits.most_frames} pictures and {limits.most_pixels_in_all / 1e6:.0f} million pixels "
            "in all are opened. Send the film alone."
        )
