"""What an image file says of how it was made: size, spacing, distances, day, view, side."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

Pair = tuple[float, float]
SPACING_KINDS = ("GEOMETRY", "FIDUCIAL")


@dataclass(frozen=True)
class ImageFacts:
    """Facts of one image as its file gives them; None where the file says nothing.

    Spacings are millimetres from pixel to pixel, (between rows, between columns). `pixel_spacing_kind`
    is PixelSpacingCalibrationType of DICOM PS3.3 10.7.1.1; distances are in millimetres;
    `magnification` is EstimatedRadiographicMagnificationFactor.
    """

    rows: int
    columns: int
    frames: int = 1
    pixel_spacing_mm: Pair | None = None
    pixel_spacing_kind: str | None = None
    imager_spacing_mm: Pair | None = None
    magnification: float | None = None
    source_to_detector_mm: float | None = None
    source_to_patient_mm: float | None = None
    taken_on: date | None = None
    view_words: str | None = None
    laterality: str | None = None
    # Boxes around what looks like writing, as (left, top, right, bottom) in pixels of the first frame.
    writing: tuple[tuple[int, int, int, int], ...] | None = None

    def as_json(self) -> dict[str, Any]:
        """Return the facts as they are stored; what is unknown is left out."""
        found = {name: value for name, value in asdict(self).items() if value is not None}
        if self.taken_on is not None:
            found["taken_on"] = self.taken_on.isoformat()
        return found

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> "ImageFacts":
        """Return the facts that `as_json` wrote; names that it does not know are passed over."""
        known = {name: stored[name] for name in cls.__dataclass_fields__ if name in stored}
        for name in ("pixel_spacing_mm", "imager_spacing_mm"):
            if name in known:
                known[name] = tuple(known[name])
        if "writing" in known:
            known["writing"] = tuple(tuple(box) for box in known["writing"])
        if "taken_on" in known:
            known["taken_on"] = date.fromisoformat(known["taken_on"])
        return cls(**known)
