"""Shoulders drawn with known geometry: what a reader should measure on them is known to the pixel.

Everything is laid out in millimetres of the patient's plane, x to the right of the film and y down,
with the middle of the film as origin; then turned, enlarged and sampled. The left shoulder stands on
the film's right, as on a film that is looked at from the front. Points are (x, y) in pixels: column
first, the middle of the first pixel is (0, 0).
"""

from dataclasses import dataclass, field, replace
from datetime import date
from io import BytesIO
from math import cos, radians, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.uid import DigitalXRayImageStorageForPresentation, ExplicitVRLittleEndian, generate_uid

Point = tuple[float, float]
Values = NDArray[Any]
# Grey values of 12 bits.
AIR, TISSUE, BONE, METAL = 300.0, 900.0, 2400.0, 3900.0
# Half the distance between the shoulders, and the clavicle's lean, length and half thickness, in mm.
HALF_SPAN, LEAN_DEG, LENGTH, HALF_THICK = 80.0, 6.0, 70.0, 6.0
CORACOID = (9.0, 7.0)
HORIZON_DOTS = (28.0, 62.0)


@dataclass(frozen=True)
class Shoulders:
    """What is drawn: distances in mm at the patient, the turn of the film in degrees (clockwise).

    CC distance is the height, square to the horizontal, of the nearest point of the clavicle's lower
    cortex above the coracoid's highest point, as `followup.rules.landmarks.measure` has it.
    """

    cc_injured_mm: float = 16.0
    cc_other_mm: float = 10.0
    ac_injured_mm: float = 8.0
    ac_other_mm: float = 0.0
    injured: str = "left"
    magnification: float = 1.1
    rotation_deg: float = 0.0
    imager_spacing_mm: float = 0.2
    noise: float = 40.0
    marker_mm: float = 25.0
    rows: int = 1000
    columns: int = 1600
    seed: int = 7


@dataclass(frozen=True)
class SyntheticFilm:
    """A drawn film: its 12-bit values, the true places of its landmarks, and the true lengths."""

    drawn: Shoulders
    values: Values
    landmarks: dict[str, Point]
    marker_centre: Point
    marker_radius_px: float
    mm_per_pixel: float
    header: dict[str, Any] = field(default_factory=dict)

    @property
    def cc_ratio_pct(self) -> float:
        """By how much the injured side is wider than the other, in per cent of the other."""
        return (self.drawn.cc_injured_mm / self.drawn.cc_other_mm - 1) * 100

    def with_header(self, **said: Any) -> "SyntheticFilm":
        """Return the same film with other words in its DICOM header; None leaves one out."""
        return replace(self, header={**self.header, **said})

    def png(self, bits: int = 8) -> bytes:
        """Return the film as a grey PNG of 8 or 16 bits."""
        pixels = (self.values >> 4).astype(np.uint8) if bits == 8 else self.values << 4
        written = BytesIO()
        Image.fromarray(pixels).save(written, "PNG")
        return written.getvalue()

    def dicom(self, bits: int = 12, photometric: str = "MONOCHROME2") -> bytes:
        """Return the film as a DICOM file of 12 or 16 bits, with a header that names its patient."""
        most = 2**bits - 1
        values = self.values if bits == 12 else self.values << 4
        if photometric == "MONOCHROME1":
            values = most - values
        meta = FileMetaDataset()
        meta.MediaStorageSOPClassUID = DigitalXRayImageStorageForPresentation
        meta.MediaStorageSOPInstanceUID = generate_uid(prefix=None)
        meta.TransferSyntaxUID = ExplicitVRLittleEndian
        header = FileDataset(BytesIO(), Dataset(), preamble=b"\0" * 128, file_meta=meta)
        header.SOPClassUID = meta.MediaStorageSOPClassUID
        header.SOPInstanceUID = meta.MediaStorageSOPInstanceUID
        header.Rows, header.Columns = values.shape
        header.SamplesPerPixel, header.PixelRepresentation = 1, 0
        header.PhotometricInterpretation = photometric
        header.BitsAllocated, header.BitsStored, header.HighBit = 16, bits, bits - 1
        header.ImagerPixelSpacing = [self.drawn.imager_spacing_mm] * 2
        header.EstimatedRadiographicMagnificationFactor = self.drawn.magnification
        header.DistanceSourceToDetector = 1800
        header.DistanceSourceToPatient = round(1800 / self.drawn.magnification, 4)
        for keyword, said in self.header.items():
            if said is not None:
                setattr(header, keyword, said)
        header.PixelData = values.astype("<u2").tobytes()
        written = BytesIO()
        header.save_as(written, enforce_file_format=True)
        return written.getvalue()


def draw(shoulders: Shoulders | None = None) -> SyntheticFilm:
    """Draw both shoulders; the same description gives the same film."""
    drawn = shoulders or Shoulders()
    mm_per_pixel = drawn.imager_spacing_mm / drawn.magnification
    x, y = _places(drawn, mm_per_pixel)
    bone = np.full(x.shape, -1e3, dtype=np.float32)
    points: dict[str, Point] = {}
    for side in ("left", "right"):
        shapes, found = _shoulder(drawn, side)
        which = "injured" if side == drawn.injured else "other"
        points |= {f"{name}_{which}": point for name, point in found.items()}
        for shape in shapes:
            bone = np.maximum(bone, shape(x, y))
    for name, sign in (("horizon_left", -1), ("horizon_right", 1)):
        centre = (sign * HORIZON_DOTS[0], HORIZON_DOTS[1])
        points[name] = centre
        bone = np.maximum(bone, 4 - np.hypot(x - centre[0], y - centre[1]))
    marker = (0.0, -55.0)
    ball = drawn.marker_mm / 2 - np.hypot(x - marker[0], y - marker[1])
    body = 120 - np.hypot(x, (y - 40) * 1.2)
    film: Values = np.full(x.shape, AIR, dtype=np.float32)
    for inside, value in ((body, TISSUE), (bone, BONE), (ball, METAL)):
        # Half covered at the edge itself: the edge lies where the grey is halfway.
        share = np.clip(inside / mm_per_pixel + 0.5, 0, 1)
        film = film * (1 - share) + value * share
    film += np.random.default_rng(drawn.seed).normal(0, drawn.noise, film.shape)
    return SyntheticFilm(
        drawn=drawn,
        values=np.clip(np.rint(film), 0, 4095).astype(np.uint16),
        landmarks={name: _pixel(drawn, mm_per_pixel, point) for name, point in points.items()},
        marker_centre=_pixel(drawn, mm_per_pixel, marker),
        marker_radius_px=drawn.marker_mm / 2 / mm_per_pixel,
        mm_per_pixel=mm_per_pixel,
        header={
            "Modality": "DX",
            "StudyDate": date(2026, 7, 17).strftime("%Y%m%d"),
            "SeriesDescription": "Both shoulders Zanca upright",
            "PatientName": "Marlowe^Agneta",
            "PatientID": "N-004711",
            "PatientBirthDate": "19710304",
            "BurnedInAnnotation": "NO",
        },
    )


def _shoulder(drawn: Shoulders, side: str) -> tuple[list[Any], dict[str, Point]]:
    """Return the shapes of one side, each a depth inside in mm, and its landmarks in mm."""
    outwards = 1 if side == "left" else -1
    injured = side == drawn.injured
    gap = drawn.cc_injured_mm if injured else drawn.cc_other_mm
    step = drawn.ac_injured_mm if injured else drawn.ac_other_mm
    # The clavicle rises to the side; `down` is the direction from its axis to its lower cortex.
    along = np.array([outwards * cos(radians(LEAN_DEG)), -sin(radians(LEAN_DEG))])
    down = np.array([-outwards * along[1], outwards * along[0]])
    middle = np.array([outwards * HALF_SPAN, -10.0])
    inner, outer = middle - along * LENGTH / 2, middle + along * LENGTH / 2
    under = middle + along * 8 + down * HALF_THICK
    # The nearest point lies aside of the coracoid's top: its height above it is the CC distance.
    top = under + down * gap / cos(radians(LEAN_DEG))
    upper_end = outer - down * HALF_THICK
    acromion = np.array([outer[0] + outwards * 9, upper_end[1] + step])
    wide, high = CORACOID

    def clavicle(x: Values, y: Values) -> Values:
        t = ((x - inner[0]) * along[0] + (y - inner[1]) * along[1]).clip(0, LENGTH)
        away = np.hypot(x - inner[0] - t * along[0], y - inner[1] - t * along[1])
        depth: Values = HALF_THICK - away
        return depth

    def coracoid(x: Values, y: Values) -> Values:
        reach = np.hypot((x - top[0]) / wide, (y - top[1] - high) / high)
        depth: Values = (1 - reach) * high
        return depth

    def acromial(x: Values, y: Values) -> Values:
        across, down = np.abs(x - acromion[0] - outwards * 12), np.abs(y - acromion[1] - 5)
        depth: Values = np.minimum(12 - across, 5 - down)
        return depth

    return [clavicle, coracoid, acromial], {
        "coracoid_top": (float(top[0]), float(top[1])),
        "clavicle_under": (float(under[0]), float(under[1])),
        "acromion_level": (float(acromion[0] + outwards * 4), float(acromion[1])),
        "clavicle_level": (float(upper_end[0]), float(upper_end[1])),
    }


def _places(drawn: Shoulders, mm_per_pixel: float) -> tuple[Values, Values]:
    """Return where in the patient's plane each pixel lies, in mm."""
    column, row = np.meshgrid(
        np.arange(drawn.columns, dtype=np.float32) - (drawn.columns - 1) / 2,
        np.arange(drawn.rows, dtype=np.float32) - (drawn.rows - 1) / 2,
    )
    turn = radians(drawn.rotation_deg)
    x = (column * cos(turn) + row * sin(turn)) * mm_per_pixel
    y = (-column * sin(turn) + row * cos(turn)) * mm_per_pixel
    return x, y


def _pixel(drawn: Shoulders, mm_per_pixel: float, point: Point) -> Point:
    """Return where a point of the patient's plane falls on the film, in pixels."""
    turn, (x, y) = radians(drawn.rotation_deg), point
    column = (x * cos(turn) - y * sin(turn)) / mm_per_pixel + (drawn.columns - 1) / 2
    row = (x * sin(turn) + y * cos(turn)) / mm_per_pixel + (drawn.rows - 1) / 2
    return column, row
