"""The size of a pixel: what a header's numbers mean, and what a marker gives; each by hand."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules import calibration
from followup.rules.calibration import PixelScale
from followup.rules.geometry import Point


@dataclass(frozen=True)
class Header:
    """What a header says; like DICOM, pairs are row spacing, column spacing."""

    pixel_spacing_mm: tuple[float, float] | None = None
    pixel_spacing_kind: str | None = None
    imager_spacing_mm: tuple[float, float] | None = None
    magnification: float | None = None
    source_to_detector_mm: float | None = None
    source_to_patient_mm: float | None = None


def offered(**told: object) -> dict[str, PixelScale]:
    return {one.how: one for one in calibration.from_header(Header(**told))}  # type: ignore[arg-type]


def rim(
    radius: float, count: int = 12, aspect: float = 1.0, noise: float = 0.0, arc: float = math.tau
) -> list[Point]:
    """Return points of the grid on the rim of a disc that is round on the film."""
    rng = np.random.default_rng(7)
    return [
        (
            300 + radius * math.cos(arc * n / count) + float(rng.normal(0, noise)),
            (200 + radius * math.sin(arc * n / count) + float(rng.normal(0, noise))) / aspect,
        )
        for n in range(count)
    ]


# DICOM PS3.3, 10.7: the calibration type says whether pixel spacing was corrected by the geometry of
# the exposure or by an object of known size, and so is no longer that of the detector.
def test_pixel_spacing_with_its_type_is_taken_as_it_stands() -> None:
    for kind, how in (("GEOMETRY", "geometry"), ("FIDUCIAL", "fiducial")):
        scale = offered(pixel_spacing_mm=(0.13, 0.13), pixel_spacing_kind=kind)[how]
        assert (scale.row_mm, scale.column_mm, scale.is_true) == (0.13, 0.13, True)
        # 80 pixels of 0.13 mm.
        assert scale.mm(80) == pytest.approx(10.4)


def test_pixel_spacing_of_unknown_meaning_gives_ratios_only() -> None:
    scale = offered(pixel_spacing_mm=(0.13, 0.13))["untold"]
    assert not scale.is_true
    assert scale.mm(80) is None
    assert "ratios only" in calibration.words(scale)


def test_pixel_spacing_like_the_detectors_was_not_corrected() -> None:
    both = offered(pixel_spacing_mm=(0.143, 0.143), imager_spacing_mm=(0.143, 0.143))
    assert list(both) == ["detector"]
    assert not both["detector"].is_true


def test_detector_spacing_alone_is_larger_than_the_shoulder() -> None:
    scale = offered(imager_spacing_mm=(0.143, 0.143))["detector"]
    assert scale.column_mm == 0.143
    assert scale.mm(80) is None
    assert calibration.words(scale).startswith("at the detector")


def test_detector_spacing_is_divided_by_the_estimated_magnification() -> None:
    # 0.143 mm at the detector over 1.10 is 0.13 mm at the shoulder.
    scale = offered(imager_spacing_mm=(0.143, 0.143), magnification=1.10)["magnification"]
    assert scale.column_mm == pytest.approx(0.13)
    assert scale.mm(80) == pytest.approx(10.4)
    assert calibration.words(scale) == "detector spacing over the file's magnification 1.1"


# DICOM PS3.3, C.8.7.6: the magnification factor is the distance from source to receptor over that
# from source to object.
def test_distances_from_the_source_give_the_magnification() -> None:
    # 1150 over 1000 is 1.15; 0.15 mm at the detector is 0.1304 mm at the shoulder.
    scale = offered(
        imager_spacing_mm=(0.15, 0.15), source_to_detector_mm=1150, source_to_patient_mm=1000
    )["distances"]
    assert scale.column_mm == pytest.approx(0.15 / 1.15)
    assert "1000 mm from source to patient over 1150 mm" in calibration.words(scale)
    assert any("table" in doubt for doubt in calibration.doubts(scale))


@pytest.mark.parametrize(
    "told",
    [
        {"magnification": 0.9},
        {"magnification": 25.0},
        {"magnification": math.nan},
        {"source_to_detector_mm": 1000.0, "source_to_patient_mm": 1100.0},
        {"source_to_detector_mm": 1000.0, "source_to_patient_mm": 0.0},
        {"source_to_detector_mm": 1000.0},
    ],
)
def test_an_impossible_magnification_is_not_used(told: dict[str, float]) -> None:
    assert list(offered(imager_spacing_mm=(0.15, 0.15), **told)) == ["detector"]


@pytest.mark.parametrize("pair", [(0.0, 0.0), (-0.1, 0.1), (25.4, 25.4), (math.nan, 0.1), None])
def test_an_impossible_spacing_is_not_offered(pair: tuple[float, float] | None) -> None:
    told = {"pixel_spacing_mm": pair, "pixel_spacing_kind": "GEOMETRY", "imager_spacing_mm": pair}
    assert offered(**told) == {}
    assert calibration.aspect_of(Header(pixel_spacing_mm=pair)) == 1.0


def test_what_is_trusted_most_comes_first() -> None:
    scales = calibration.from_header(
        Header((0.13, 0.13), "FIDUCIAL", (0.143, 0.143), 1.1, 1150, 1000)
    )
    assert [one.how for one in scales] == ["fiducial", "magnification", "distances", "detector"]


def test_pixels_that_are_not_square_keep_both_sizes() -> None:
    scale = offered(imager_spacing_mm=(0.22, 0.11), magnification=1.1)["magnification"]
    assert [scale.row_mm, scale.column_mm] == pytest.approx([0.2, 0.1])
    assert scale.aspect == 2.0
    assert calibration.aspect_of(Header(imager_spacing_mm=(0.22, 0.11))) == 2.0


def test_a_marker_gives_the_size_of_a_pixel() -> None:
    # A ball of 25 mm with a radius of 100 pixels: 25 over 200 is 0.125 mm a pixel.
    scale = calibration.by_marker(rim(100), 25)
    assert scale.column_mm == pytest.approx(0.125)
    assert scale.row_mm == pytest.approx(0.125)
    assert scale.facts["residual_px"] == 0
    assert scale.facts["rim_seen_deg"] == 330
    assert len(scale.facts["rim"]) == 12
    assert calibration.words(scale) == (
        "marker of 25 mm, 12 points on its rim, residual 0.0 px (0.00 mm)"
    )


def test_a_marker_on_pixels_that_are_not_square_is_an_ellipse_of_the_grid() -> None:
    # Pixels twice as high as wide: 100 widths across are 50 rows down.
    grid = rim(100, aspect=2.0)
    assert max(y for _, y in grid) - min(y for _, y in grid) == pytest.approx(100)
    scale = calibration.by_marker(grid, 25, aspect=2.0)
    assert [scale.column_mm, scale.row_mm] == pytest.approx([0.125, 0.25])
    assert "rim" in calibration.marker_faults(grid, 25)


def test_the_residual_is_kept_and_a_poor_circle_is_doubted() -> None:
    scale = calibration.by_marker(rim(60, noise=2.5), 30)
    assert 1.2 < scale.facts["residual_px"] < 4
    assert scale.facts["residual_mm"] == pytest.approx(
        scale.facts["residual_px"] * 30 / (2 * scale.facts["radius_px"]), abs=0.001
    )
    assert any("stray" in doubt for doubt in calibration.doubts(scale))
    assert not any("stray" in one for one in calibration.doubts(calibration.by_marker(rim(60), 30)))


def test_half_a_rim_is_doubted() -> None:
    scale = calibration.by_marker(rim(60, arc=2.0), 30)
    assert any("half of the rim" in doubt for doubt in calibration.doubts(scale))


@pytest.mark.parametrize(
    ("points", "diameter", "field", "says"),
    [
        (rim(100)[:3], 25, "rim", "needs 4 points"),
        ([(n, n) for n in range(6)], 25, "rim", "on one line"),
        (rim(3), 25, "rim", "radius of 3.0 pixels"),
        ([*rim(50, 8), (300, 290)], 25, "rim", "no round marker"),
        ([*rim(50, 4), (600, 600)], 25, "rim", "no circle comes near"),
        (rim(100), 0.5, "diameter_mm", "from 1 to 200"),
        (rim(100), None, "diameter_mm", "from 1 to 200"),
        (rim(100), math.nan, "diameter_mm", "from 1 to 200"),
        (rim(400), 2, "diameter_mm", "impossible size"),
    ],
)
def test_an_impossible_marker_is_refused(
    points: list[Point], diameter: float | None, field: str, says: str
) -> None:
    assert says in calibration.marker_faults(points, diameter)[field]
    if diameter is not None:
        with pytest.raises(ValueError, match=says):
            calibration.by_marker(points, diameter)


def test_no_calibration_gives_ratios_only() -> None:
    scale = calibration.none(aspect=2.0)
    assert (scale.is_true, scale.mm(10), scale.aspect) == (False, None, 2.0)
    assert calibration.words(scale) == "not calibrated: ratios only"
    assert calibration.doubts(scale) == ()


def test_every_way_has_a_name() -> None:
    assert set(calibration.NAMES) == calibration.TRUE_MM | {"detector", "untold", "none"}


@given(st.floats(20, 300), st.floats(0.5, 2), st.integers(4, 20))
def test_a_marker_gives_back_the_size_that_drew_it(
    radius: float, aspect: float, count: int
) -> None:
    diameter = 2 * radius * 0.14
    scale = calibration.by_marker(rim(radius, count, aspect), diameter, aspect)
    assert scale.column_mm == pytest.approx(0.14)
    assert scale.row_mm == pytest.approx(0.14 * aspect)
