"""Calibrating pictures of films and measuring on them: every number is worked out here from marks."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from followup.models.calibrations import ImageCalibration
from followup.models.films import Calibration, Film, Reading
from followup.models.images import FilmImage
from followup.rules import calibration, landmarks
from followup.rules.calibration import PixelScale
from followup.rules.findings import Found
from followup.rules.geometry import Point
from followup.rules.landmarks import Measures
from followup.selectors.measuring import current_calibration, scale_of
from followup.services import films
from followup.services.superseding import supersede
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.rules.missing import NOT_APPLICABLE, NOT_DONE
from registry.services import records

# What a film is called by what its picture was calibrated with.
FILM_IS = {
    calibration.MARKER: Calibration.MARKER,
    calibration.FIDUCIAL: Calibration.MARKER,
    calibration.GEOMETRY: Calibration.DETECTOR,
    calibration.MAGNIFICATION: Calibration.DETECTOR,
    calibration.DISTANCES: Calibration.DETECTOR,
}
# What a reader says beside the lengths; a new measurement of the same marks keeps it.
BESIDE = (
    *("translation_pct", "union", "cortices_bridged", "fracture_line"),
    *("hardware", "blind", "flags"),
)
LENGTHS = (
    *("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct"),
    *("acd_injured_mm", "acd_other_mm"),
)


def calibrate(
    *,
    image: FilmImage,
    how: str,
    by: Person,
    now: datetime,
    diameter_mm: float | None = None,
    rim: Sequence[Point] = (),
    expected_version: int | None = None,
) -> ImageCalibration:
    """Say how large a picture's pixel is; an earlier calibration is kept and superseded.

    Readings made with the earlier one keep their numbers. `expected_version` is that of the one that
    the user saw, 0 for none; left out, any may be superseded. Raises StaleVersion when another stands
    there, BadInput for a marker that gives no size and for what the file's header does not offer.
    """
    scale = _scale(image, how, diameter_mm, rim)
    row = ImageCalibration(
        image=image,
        site=image.site,
        how=scale.how,
        mm_per_pixel_row=scale.row_mm,
        mm_per_pixel_column=scale.column_mm,
        aspect=scale.aspect,
        facts=dict(scale.facts),
    )
    with records.change(by=by):
        earlier = current_calibration(image)
        _hold_version(earlier, expected_version)
        if earlier is None:
            records.create(row, by=by, now=now)
        else:
            supersede(earlier, row, seen=earlier.version, by=by, now=now)
        _tell_film(image, by=by, now=now)
    return row


def record_measured(
    *,
    image: FilmImage,
    points: Mapping[str, Point],
    values: Mapping[str, Any],
    reader: Person,
    by: Person,
    now: datetime,
    today: date,
    frame: int = 1,
    expected_version: int | None = None,
    found: Sequence[Found] | None = None,
) -> Reading:
    """Save what one reader measured on a picture: lengths from its marks, the rest from `values`.

    `points` are (column, row) in pixels by the names of the landmarks; `expected_version` and
    `found` are as in `films.record_reading`. Raises BadInput by landmark for what is missing or impossible, and
    StaleVersion when another reading stands there.
    """
    used = current_calibration(image)
    film = Film.objects.get(pk=image.film_id)
    measured = lengths(image, film, points, used)
    missing = {**values.get("missing", {}), **measured.pop("missing")}
    return films.record_reading(
        film=film,
        values={
            **values,
            **measured,
            "missing": {name: why for name, why in missing.items() if not _given(measured, name)},
            "image": image,
            "landmarks": {
                "frame": frame,
                "points": {name: [float(x), float(y)] for name, (x, y) in points.items()},
            },
            "calibration_used": used,
        },
        reader=reader,
        by=by,
        now=now,
        today=today,
        expected_version=expected_version,
        found=found,
    )


def measure_again(*, image: FilmImage, by: Person, now: datetime, today: date) -> list[Reading]:
    """Work out every current reading of a picture anew that was made with an earlier calibration.

    Each becomes a new reading of its reader that supersedes, with what was said beside the lengths
    and all that was found; nothing happens where none is older.
    """
    used = current_calibration(image)
    if used is None:
        return []
    older = Reading.objects.filter(image=image, superseded_by__isnull=True)
    rows = older.exclude(calibration_used=used).select_related("reader").order_by("id")
    with records.change(by=by, reason="measured again with the corrected calibration"):
        return [_again(image, row, by=by, now=now, today=today) for row in rows]


def lengths(
    image: FilmImage, film: Film, points: Mapping[str, Point], used: ImageCalibration | None
) -> dict[str, Any]:
    """Return the columns of a reading that its marks give, with why the others are missing.

    On a calibrated film the lengths are kept, from which the ratio follows; else the ratio alone.
    Raises BadInput by landmark.
    """
    scale, both = scale_of(image, used), film.shows_both_sides
    faults = landmarks.faults(
        points, rows=image.rows, columns=image.columns, both_sides=both, scale=scale
    )
    if faults:
        raise BadInput(faults)
    return columns_of(landmarks.measure(points, scale), scale, both_sides=both)


def columns_of(measures: Measures, scale: PixelScale, *, both_sides: bool) -> dict[str, Any]:
    """Return measures as the columns of a reading, to one decimal, with `missing`."""
    found: dict[str, float | None] = {
        "ccd_injured_mm": measures.injured.ccd_mm,
        "ccd_other_mm": measures.other.ccd_mm,
        "ccd_side_ratio_pct": None if scale.is_true else measures.ratio_pct,
        "acd_injured_mm": measures.injured.acd_mm,
        "acd_other_mm": measures.other.acd_mm,
    }
    missing = {}
    for name in (name for name, value in found.items() if value is None):
        of_other = name in ("ccd_other_mm", "ccd_side_ratio_pct", "acd_other_mm")
        in_mm = name.endswith("_mm")
        cannot = in_mm != scale.is_true or (of_other and not both_sides)
        missing[name] = NOT_APPLICABLE if cannot else NOT_DONE
    return {**{name: _tenth(value) for name, value in found.items()}, "missing": missing}


def _again(
    image: FilmImage, reading: Reading, *, by: Person, now: datetime, today: date
) -> Reading:
    points = {name: (x, y) for name, (x, y) in reading.landmarks["points"].items()}
    missing = {name: why for name, why in reading.missing.items() if name not in LENGTHS}
    kept = {name: getattr(reading, name) for name in BESIDE}
    return record_measured(
        image=image,
        points=points,
        values={**kept, "missing": missing},
        reader=reading.reader,
        by=by,
        now=now,
        today=today,
        frame=reading.landmarks["frame"],
        expected_version=reading.version,
    )


def _scale(
    image: FilmImage, how: str, diameter_mm: float | None, rim: Sequence[Point]
) -> PixelScale:
    aspect = calibration.aspect_of(image.image_facts)
    if how == calibration.NONE:
        return calibration.none(aspect)
    if how == calibration.MARKER:
        faults = calibration.marker_faults(rim, diameter_mm, aspect)
        if faults or diameter_mm is None:
            raise BadInput(faults)
        return calibration.by_marker(rim, diameter_mm, aspect)
    offers = {offer.how: offer for offer in calibration.from_header(image.image_facts)}
    if how not in offers:
        raise BadInput(
            {"how": "The file's header does not say this; choose another way or a marker."}
        )
    return offers[how]


def _hold_version(earlier: ImageCalibration | None, expected: int | None) -> None:
    standing = 0 if earlier is None else earlier.version
    if expected is not None and expected != standing:
        raise StaleVersion("The calibration", expected=expected, current=standing)


def _tell_film(image: FilmImage, *, by: Person, now: datetime) -> None:
    """Let the film say whether lengths in mm count on it: when any of its pictures gives them."""
    ways = ImageCalibration.objects.filter(
        image__film=image.film_id, image__voided_at__isnull=True, superseded_by__isnull=True
    ).order_by("-id")
    told = [FILM_IS[row.how] for row in ways if row.how in FILM_IS]
    film = Film.objects.get(pk=image.film_id)
    now_is = told[0] if told else Calibration.NONE
    if film.calibration != now_is:
        records.save(film, {"calibration": now_is}, by=by, now=now, expected_version=film.version)


def _tenth(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(str(round(value, 1)))


def _given(measured: Mapping[str, Any], name: str) -> bool:
    return measured.get(name) is not None
