"""The pixels of a DICOM file: unpacked frame by frame, written again plainly, painted over, shown."""

import struct
import warnings
from collections.abc import Iterator
from typing import Any, BinaryIO

import numpy as np
import pydicom
from numpy.typing import NDArray
from pydicom.dataset import Dataset, FileDataset
from pydicom.pixels.decoders.base import get_decoder
from pydicom.pixels.processing import apply_color_lut, apply_modality_lut
from pydicom.pixels.utils import iter_pixels
from pydicom.uid import UID, JPEGExtended12Bit

from followup.exchange import dicom_levels
from followup.exchange.dicom_values import whole_of
from followup.rules.image_files import ImageRefused, Limits, hold_size
from followup.rules.image_levels import Levels

Pixels = NDArray[Any]
GREY = ("MONOCHROME1", "MONOCHROME2")
SHOWN = (*GREY, "PALETTE COLOR", "RGB", "YBR_FULL", "YBR_FULL_422", "YBR_ICT", "YBR_RCT")
PIXEL_TAG = b"\xe0\x7f\x10\x00"
# So many values of a film say how it is usually shown.
SAMPLE = 200_000
CUT_SHORT = (
    "The pixels of this DICOM file are cut short or damaged: they cannot be unpacked to their end. "
    "Export the film again and send that."
)


class Frames:
    """The frames of one DICOM file.

    Raises ImageRefused for pixels that are too many, of a kind that is not shown, or packed in a way
    that cannot be unpacked here.
    """

    def __init__(self, header: FileDataset, limits: Limits) -> None:
        """Hold what the header says of the pixels to what can be shown; none is unpacked yet."""
        self._header = header
        self.rows, self.columns = whole_of(header, "Rows"), whole_of(header, "Columns")
        self.count = whole_of(header, "NumberOfFrames", 1)
        hold_size(self.rows, self.columns, self.count, limits)
        self._photometric = str(header.get("PhotometricInterpretation") or "")
        self._hold_kind()
        _hold_packing(header)
        self.is_mapped = bool(header.get("ModalityLUTSequence"))
        self.is_coloured = self._photometric not in GREY
        bits = whole_of(header, "BitsAllocated")
        self.bits = 8 if self.is_coloured or (bits <= 8 and not self.is_mapped) else 16
        self.signed = (
            not self.is_coloured
            and not self.is_mapped
            and whole_of(header, "PixelRepresentation", 0) == 1
        )

    def describe(self, kept: Dataset) -> None:
        """Write into a header what the pixels are, as they are kept."""
        kept.SamplesPerPixel = 3 if self.is_coloured else 1
        if self.is_coloured:
            kept.PlanarConfiguration = 0
        kept.PhotometricInterpretation = "RGB" if self.is_coloured else self._photometric
        kept.Rows, kept.Columns = self.rows, self.columns
        if self.count > 1:
            kept.NumberOfFrames = self.count
        kept.BitsAllocated = kept.BitsStored = self.bits
        kept.HighBit = self.bits - 1
        kept.PixelRepresentation = int(self.signed)

    def write(self, kept: FileDataset, out: BinaryIO) -> Levels:
        """Write a header and the pixels after it, one frame at a time; return the levels.

        Raises ImageRefused when a frame cannot be unpacked.
        """
        pydicom.dcmwrite(out, kept, enforce_file_format=True)
        size = self.rows * self.columns * (3 if self.is_coloured else self.bits // 8)
        length = size * self.count
        out.write(PIXEL_TAG + (b"OB" if self.bits == 8 else b"OW") + b"\0\0")
        out.write(struct.pack("<I", length + length % 2))
        ends, samples, written = [], [], 0
        step = max(1, self.rows * self.columns * self.count // SAMPLE)
        for frame in self._unpacked():
            plain = self._plain(frame)
            ends += [plain.min(), plain.max()]
            samples.append(plain.ravel()[::step].copy())
            out.write(np.ascontiguousarray(plain).data)
            written += plain.nbytes
        if written != length:
            raise ImageRefused(CUT_SHORT)
        out.write(b"\0" * (length % 2))
        if self.is_coloured:
            return Levels(0, 255, 0, 255)
        values = [float(one) for one in dicom_levels.rescaled(kept, np.array(ends, dtype=float))]
        sample = dicom_levels.rescaled(kept, np.concatenate(samples).astype(float))
        least, most = min(values), max(values)
        return Levels(least, most, *dicom_levels.usual_ends(kept, least, most, sample))

    def _hold_kind(self) -> None:
        bits = whole_of(self._header, "BitsAllocated")
        if self._photometric not in SHOWN or bits not in (1, 8, 16):
            raise ImageRefused(
                f"The pixels of this DICOM file ('{self._photometric[:16]}', {bits} bits) are of a "
                "kind that is not shown here. Export the film as a plain radiograph of 8 to 16 bits."
            )
        samples = whole_of(self._header, "SamplesPerPixel", 1)
        if samples != (1 if self._photometric in (*GREY, "PALETTE COLOR") else 3):
            raise ImageRefused(
                "This DICOM file contradicts itself about its colours. Export it again."
            )

    def _unpacked(self) -> Iterator[Pixels]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                yield from iter_pixels(self._header)
            except MemoryError:
                raise
            except Exception as fault:
                raise ImageRefused(CUT_SHORT) from fault

    def _plain(self, frame: Pixels) -> Pixels:
        """Return a frame as it is kept: grey values within their bits, or colours of 8 bits."""
        shape = (self.rows, self.columns, 3) if frame.ndim == 3 else (self.rows, self.columns)
        if frame.shape != shape:
            raise ImageRefused(CUT_SHORT)
        if self.is_coloured:
            return self._coloured(frame)
        if self.is_mapped:
            try:
                mapped: Pixels = apply_modality_lut(frame, self._header).astype(np.uint16)
            except Exception as fault:
                raise ImageRefused(CUT_SHORT) from fault
            return mapped
        return self._within_bits(frame).astype(f"<{'i' if self.signed else 'u'}{self.bits // 8}")

    def _coloured(self, frame: Pixels) -> Pixels:
        if frame.ndim == 2:
            try:
                frame = apply_color_lut(frame, self._header)[:, :, :3]
            except Exception as fault:
                raise ImageRefused(CUT_SHORT) from fault
            depth = int(self._header.RedPaletteColorLookupTableDescriptor[2])
        else:
            depth = whole_of(self._header, "BitsStored", 8)
        return frame.astype(np.uint8) if depth <= 8 else (frame >> (depth - 8)).astype(np.uint8)

    def _within_bits(self, frame: Pixels) -> Pixels:
        """Clear the bits beyond those that belong to the value: older files hide drawings there."""
        allocated, stored = frame.dtype.itemsize * 8, whole_of(self._header, "BitsStored", 16)
        if stored >= allocated or stored < 1:
            return frame
        shift = allocated - stored
        cleared: Pixels = (frame << shift) >> shift
        return cleared


def frame_of(source: BinaryIO, number: int) -> tuple[Dataset, Pixels]:
    """Return the header and one frame, the first is 1, of a file that `Frames.write` wrote."""
    header = pydicom.dcmread(source, stop_before_pixels=True)
    start, shape, kind = _place(source, header)
    size = int(np.prod(shape)) * kind.itemsize
    source.seek(start + (number - 1) * size)
    return header, np.frombuffer(source.read(size), kind).reshape(shape)


def shown(header: Dataset, frame: Pixels, ends: tuple[float, float] | None) -> Pixels:
    """Return a kept frame in 8 bits: by its own window or table, or between two ends."""
    if frame.ndim == 3:
        if ends is None or ends == (0, 255):
            return frame
        table = dicom_levels.greys(Dataset(), np.arange(256), ends)
        return np.take(table, frame)
    bits = frame.dtype.itemsize * 8
    unsigned = frame.view(f"<u{bits // 8}")
    # Every value that there can be is worked out once, and each pixel looks its own up.
    every = np.arange(2**bits).astype(unsigned.dtype).view(frame.dtype)
    if ends is None and not dicom_levels.has_own_way(header):
        raise ValueError("a film without a window of its own is shown between two ends")
    return np.take(dicom_levels.greys(header, every, ends), unsigned)


def paint(source: BinaryIO, out: BinaryIO, boxes: list[tuple[int, int, int, int, int]]) -> None:
    """Copy a kept file with boxes painted black for good: (frame or 0 for all, left, top, right, bottom).

    Right and bottom are the first column and row beyond the box.
    """
    header = pydicom.dcmread(source, stop_before_pixels=True)
    start, shape, kind = _place(source, header)
    source.seek(0)
    out.write(source.read(start))
    size = int(np.prod(shape)) * kind.itemsize
    for number in range(1, whole_of(header, "NumberOfFrames", 1) + 1):
        frame = np.frombuffer(source.read(size), kind).reshape(shape).copy()
        black = frame.max() if header.PhotometricInterpretation == "MONOCHROME1" else frame.min()
        for of_frame, left, top, right, bottom in boxes:
            if of_frame in (0, number):
                frame[top:bottom, left:right] = black
        out.write(frame.data)
    out.write(source.read())


def _place(source: BinaryIO, header: Dataset) -> tuple[int, tuple[int, ...], np.dtype[Any]]:
    """Return where the pixels begin, and the shape and type of one frame."""
    here = source.tell()
    if source.read(4) != PIXEL_TAG:
        raise ValueError("this is not a file that was written here")
    start = here + 12
    bits = int(header.BitsAllocated)
    sign = "i" if header.PixelRepresentation else "u"
    shape: tuple[int, ...] = (int(header.Rows), int(header.Columns))
    if header.SamplesPerPixel == 3:
        shape = (*shape, 3)
    return start, shape, np.dtype(f"<{sign}{bits // 8}")


def _hold_packing(header: FileDataset) -> None:
    """Raise ImageRefused when nothing here unpacks the pixels, saying what would."""
    packed = UID(str(header.file_meta.TransferSyntaxUID))
    if packed == JPEGExtended12Bit and whole_of(header, "BitsStored") > 8:
        raise ImageRefused(
            "This film is packed as JPEG with 12 bits, which no program library here unpacks. "
            "Export it uncompressed, or as JPEG lossless or JPEG 2000."
        )
    try:
        decoder = get_decoder(packed)
    except NotImplementedError as fault:
        # So the library says that it does not know this packing.
        raise ImageRefused(
            f"This film is packed in a way ('{packed.name[:60]}') that is not unpacked here. "
            "Export it uncompressed."
        ) from fault
    if not decoder.is_available:
        raise ImageRefused(
            f"This film is packed as '{packed.name[:60]}'. Export it uncompressed, or ask whoever "
            "runs this service to add its 'scanners' extra, which unpacks it."
        )
