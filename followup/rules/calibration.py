"""How large a pixel of a film is at the shoulder, and where that is known from."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeGuard

from followup.rules.geometry import Circle, Point, fit_circle, stretched

MARKER, FIDUCIAL, GEOMETRY = "marker", "fiducial", "geometry"
MAGNIFICATION, DISTANCES = "magnification", "distances"
DETECTOR, UNTOLD, NONE = "detector", "untold", "none"
# Only these give millimetres at the shoulder; the others give ratios only.
TRUE_MM = frozenset({MARKER, FIDUCIAL, GEOMETRY, MAGNIFICATION, DISTANCES})
NAMES = {
    MARKER: "A marker of known size on the film",
    FIDUCIAL: "The file: pixel spacing by an object of known size",
    GEOMETRY: "The file: pixel spacing corrected for magnification",
    MAGNIFICATION: "The file: detector spacing and estimated magnification",
    DISTANCES: "The file: detector spacing and distances from the source",
    DETECTOR: "The file: at the detector, ratios only",
    UNTOLD: "The file: pixel spacing of unknown meaning, ratios only",
    NONE: "None: ratios only",
}
# What a radiograph can have; common practice, no source.
PIXEL_MM = (0.01, 2.0)
MAGNIFIED = (1.0, 3.0)
DIAMETER_MM = (1.0, 200.0)
SMALLEST_RADIUS_PX = 5.0
# A rim that strays by more is no circle; by more than the lower share it is worth another look.
STRAYS, DOUBTFUL = 0.10, 0.02
ALIKE = 1e-4


class SpacingFacts(Protocol):
    """What the header of an image file says of its pixels; lengths in mm, pairs as (row, column)."""

    @property
    def pixel_spacing_mm(self) -> tuple[float, float] | None:
        """Distance between rows and between columns, perhaps corrected for magnification."""

    @property
    def pixel_spacing_kind(self) -> str | None:
        """How that was corrected: GEOMETRY, FIDUCIAL, or not told."""

    @property
    def imager_spacing_mm(self) -> tuple[float, float] | None:
        """Distance between rows and between columns at the front of the detector."""

    @property
    def magnification(self) -> float | None:
        """The estimated magnification: source to detector over source to patient."""

    @property
    def source_to_detector_mm(self) -> float | None:
        """From the source to the detector."""

    @property
    def source_to_patient_mm(self) -> float | None:
        """From the source to the patient."""


@dataclass(frozen=True)
class PixelScale:
    """The size of a pixel and where it is known from; `aspect` is a pixel's height over its width.

    Without a size the aspect alone is known, which is all that ratios need.
    """

    how: str
    row_mm: float | None = None
    column_mm: float | None = None
    aspect: float = 1.0
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def is_true(self) -> bool:
        """Whether it gives millimetres at the shoulder."""
        return self.how in TRUE_MM and self.column_mm is not None

    def mm(self, widths: float) -> float | None:
        """Return a length given in widths of a pixel as mm at the shoulder; None where only ratios count."""
        if self.column_mm is None or not self.is_true:
            return None
        return widths * self.column_mm


def from_header(facts: SpacingFacts) -> tuple[PixelScale, ...]:
    """Return every size of a pixel that a file's header offers, the most trusted first.

    Pixel spacing counts as true only where the header says how it was corrected; the same numbers as
    at the detector are not corrected. Detector spacing is divided by the magnification, which is the
    distance from source to detector over that from source to patient.

    References: DICOM PS3.3, 10.7 Basic Pixel Spacing Calibration Macro, and C.8.7.6 for the
    magnification factor as SID over SOD.
    """
    offers = (*_from_pixel_spacing(facts), *_from_detector(facts))
    trust = (FIDUCIAL, GEOMETRY, MAGNIFICATION, DISTANCES, DETECTOR, UNTOLD)
    return tuple(sorted(offers, key=lambda offer: trust.index(offer.how)))


def aspect_of(facts: SpacingFacts) -> float:
    """Return the height of a pixel over its width, 1 where the header does not tell it."""
    for pair in (facts.pixel_spacing_mm, facts.imager_spacing_mm):
        if _possible(pair):
            return pair[0] / pair[1]
    return 1.0


def marker_faults(
    rim: Sequence[Point], diameter_mm: float | None, aspect: float = 1.0
) -> dict[str, str]:
    """Return what is wrong with a marker, by field; nothing when it gives the size of a pixel."""
    found: dict[str, str] = {}
    low, high = DIAMETER_MM
    if diameter_mm is None or not low <= diameter_mm <= high:
        found["diameter_mm"] = f"Write the marker's diameter in mm, from {low:g} to {high:g}."
    try:
        circle = _rim_circle(rim, aspect)
    except ValueError as fault:
        return {**found, "rim": f"Mark the rim again: {fault}."}
    if circle.radius < SMALLEST_RADIUS_PX:
        found["rim"] = (
            f"The circle has a radius of {circle.radius:.1f} pixels; a marker that small cannot be "
            "measured. Zoom in and mark its rim."
        )
    elif circle.residual > STRAYS * circle.radius:
        found["rim"] = (
            f"The points stray from their circle by {circle.residual:.1f} pixels at a radius of "
            f"{circle.radius:.1f}; that is no round marker. Mark the rim again."
        )
    elif not found and not _in(PIXEL_MM, diameter_mm / (2 * circle.radius)):  # type: ignore[operator]
        found["diameter_mm"] = "With this marker a pixel would have an impossible size."
    return found


def by_marker(rim: Sequence[Point], diameter_mm: float, aspect: float = 1.0) -> PixelScale:
    """Return the size of a pixel from points (column, row) on the rim of a round marker.

    The diameter over twice the radius of the fitted circle is the width of a pixel. Its facts keep
    the points, the radius and the residual in widths of a pixel, and the residual in mm. Raises
    ValueError for what `marker_faults` names.
    """
    faults = marker_faults(rim, diameter_mm, aspect)
    if faults:
        raise ValueError("; ".join(faults.values()))
    circle = _rim_circle(rim, aspect)
    column_mm = diameter_mm / (2 * circle.radius)
    facts = {
        "diameter_mm": diameter_mm,
        "rim": [[x, y] for x, y in rim],
        "radius_px": round(circle.radius, 3),
        "residual_px": round(circle.residual, 3),
        "residual_mm": round(circle.residual * column_mm, 3),
        "rim_seen_deg": round(_seen_deg(rim, circle, aspect)),
    }
    return PixelScale(MARKER, column_mm * aspect, column_mm, aspect, facts)


def none(aspect: float = 1.0) -> PixelScale:
    """Return that the size of a pixel is not known."""
    return PixelScale(NONE, aspect=aspect)


def words(scale: PixelScale) -> str:
    """Say where the size of a pixel is known from, as it stands beside every number that uses it."""
    facts = scale.facts
    match scale.how:
        case "marker":
            return (
                f"marker of {facts['diameter_mm']:g} mm, {len(facts['rim'])} points on its rim, "
                f"residual {facts['residual_px']:.1f} px ({facts['residual_mm']:.2f} mm)"
            )
        case "fiducial":
            return "pixel spacing of the file, by an object of known size"
        case "geometry":
            return "pixel spacing of the file, corrected for magnification"
        case "magnification":
            return f"detector spacing over the file's magnification {facts['magnification']:g}"
        case "distances":
            return (
                f"detector spacing, {facts['source_to_patient_mm']:g} mm from source to patient over "
                f"{facts['source_to_detector_mm']:g} mm to the detector"
            )
        case "detector":
            return "at the detector, larger than the shoulder by an unknown factor: ratios only"
        case "untold":
            return "pixel spacing of unknown meaning: ratios only"
    return "not calibrated: ratios only"


def doubts(scale: PixelScale) -> tuple[str, ...]:
    """Return what a reader should look at again before trusting the millimetres.

    References: a marker 1 cm off the plane of the bone is wrong by about 1 % (a study of
    calibration on veterinary radiographs, 2022).
    """
    found = []
    if scale.how == MARKER:
        facts = scale.facts
        if facts["residual_px"] > DOUBTFUL * facts["radius_px"]:
            found.append("The points stray from the circle by more than 2 % of its radius.")
        if facts["rim_seen_deg"] < 180:
            found.append("The points lie on less than half of the rim.")
        found.append("A marker 1 cm nearer to or farther from the detector than the joint: 1 %.")
    if scale.how == DISTANCES:
        found.append("The distance to the patient may be that to the table or stand.")
    return tuple(found)


def _from_pixel_spacing(facts: SpacingFacts) -> tuple[PixelScale, ...]:
    pair = facts.pixel_spacing_mm
    if not _possible(pair):
        return ()
    kind = (facts.pixel_spacing_kind or "").strip().upper()
    told = {"FIDUCIAL": FIDUCIAL, "GEOMETRY": GEOMETRY}.get(kind)
    if told is None:
        # Equal to the detector's, it was not corrected and says nothing new.
        same = _possible(facts.imager_spacing_mm) and all(
            math.isclose(a, b, rel_tol=ALIKE)
            for a, b in zip(pair, facts.imager_spacing_mm, strict=True)
        )
        return () if same else (_scale(UNTOLD, pair, 1.0, {}),)
    return (_scale(told, pair, 1.0, {}),)


def _from_detector(facts: SpacingFacts) -> tuple[PixelScale, ...]:
    pair = facts.imager_spacing_mm
    if not _possible(pair):
        return ()
    offers = [_scale(DETECTOR, pair, 1.0, {})]
    told = facts.magnification
    if told is not None and _in(MAGNIFIED, told):
        offers.append(_scale(MAGNIFICATION, pair, told, {"magnification": told}))
    far, near = facts.source_to_detector_mm, facts.source_to_patient_mm
    if far and near and _in(MAGNIFIED, far / near):
        kept = {"source_to_detector_mm": far, "source_to_patient_mm": near}
        offers.append(_scale(DISTANCES, pair, far / near, kept))
    return tuple(offers)


def _scale(
    how: str, pair: tuple[float, float], magnification: float, facts: Mapping[str, Any]
) -> PixelScale:
    row, column = pair
    kept = {"spacing_mm": [row, column], **facts}
    return PixelScale(how, row / magnification, column / magnification, row / column, kept)


def _possible(pair: tuple[float, float] | None) -> TypeGuard[tuple[float, float]]:
    return pair is not None and all(_in(PIXEL_MM, one) for one in pair)


def _in(limits: tuple[float, float], value: float) -> bool:
    return limits[0] <= value <= limits[1]


def _rim_circle(rim: Sequence[Point], aspect: float) -> Circle:
    return fit_circle([stretched(point, aspect) for point in rim])


def _seen_deg(rim: Sequence[Point], circle: Circle, aspect: float) -> float:
    """Return how much of the rim the points span: the full turn less the widest gap."""
    at = [stretched(point, aspect) for point in rim]
    turns = sorted(math.degrees(math.atan2(y - circle.y, x - circle.x)) for x, y in at)
    gaps = [b - a for a, b in zip(turns, [*turns[1:], turns[0] + 360], strict=True)]
    return 360 - max(gaps)
