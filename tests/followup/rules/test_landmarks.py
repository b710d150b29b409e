"""From landmarks to distances: by hand, whatever the film's turn, size or pixels."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules import calibration, landmarks
from followup.rules.calibration import PixelScale
from followup.rules.geometry import Point

SIZE = {"rows": 1500, "columns": 2400}
# Both shoulders on a level film; the injured one is on the left of the picture.
MARKED: dict[str, Point] = {
    "coracoid_top_injured": (500, 700),
    "clavicle_under_injured": (510, 580),
    "acromion_level_injured": (380, 500),
    "clavicle_level_injured": (400, 460),
    "coracoid_top_other": (1900, 700),
    "clavicle_under_other": (1895, 620),
    "acromion_level_other": (2020, 500),
    "clavicle_level_other": (2000, 495),
    "horizon_left": (450, 900),
    "horizon_right": (1950, 900),
}
TENTH = PixelScale("geometry", 0.1, 0.1)


def found(
    points: dict[str, Point], scale: PixelScale = TENTH, *, both: bool = True
) -> dict[str, str]:
    return landmarks.faults(points, **SIZE, both_sides=both, scale=scale)


def without(*names: str) -> dict[str, Point]:
    return {name: point for name, point in MARKED.items() if name not in names}


def test_the_measures_of_a_level_film_by_hand() -> None:
    # Tenths of a millimetre: 120 px are 12 mm, 80 px are 8 mm; (12 - 8) / 8 is half as much again.
    measures = landmarks.measure(MARKED, TENTH)
    assert measures.injured.ccd_mm == pytest.approx(12)
    assert measures.other.ccd_mm == pytest.approx(8)
    assert measures.ratio_pct == pytest.approx(50)
    assert measures.difference_mm == pytest.approx(4)
    # The clavicle stands 40 px above the acromion here and 5 px there.
    assert measures.injured.acd_mm == pytest.approx(4)
    assert measures.other.acd_mm == pytest.approx(0.5)
    assert measures.tilt_deg == 0
    # The straight line to a point 10 px aside: the root of 120 squared and 10 squared.
    assert measures.injured.straight_px == pytest.approx(math.sqrt(14_500))
    assert found(MARKED) == {}


def test_a_clavicle_below_the_acromion_has_a_negative_height() -> None:
    measures = landmarks.measure({**MARKED, "clavicle_level_injured": (400, 530)}, TENTH)
    assert measures.injured.acd_mm == pytest.approx(-3)


def test_without_calibration_there_are_ratios_and_no_millimetres() -> None:
    for scale in (calibration.none(), PixelScale("detector", 0.1, 0.1)):
        measures = landmarks.measure(MARKED, scale)
        assert measures.ratio_pct == pytest.approx(50)
        assert measures.injured.ccd_px == pytest.approx(120)
        assert measures.injured.ccd_mm is measures.difference_mm is measures.injured.acd_mm is None


def test_pixels_that_are_not_square_count_by_their_height() -> None:
    # Pixels 0.1 mm wide and 0.2 mm high: 120 rows are 24 mm.
    measures = landmarks.measure(MARKED, PixelScale("geometry", 0.2, 0.1, aspect=2.0))
    assert measures.injured.ccd_mm == pytest.approx(24)
    assert measures.ratio_pct == pytest.approx(50)


def test_the_picture_s_edge_stands_for_a_horizontal_that_nobody_marked() -> None:
    measures = landmarks.measure(without("horizon_left", "horizon_right"), TENTH)
    assert measures.tilt_deg is None
    assert measures.injured.ccd_mm == pytest.approx(12)


def test_a_tilt_is_taken_out_by_hand() -> None:
    # The body's horizontal falls 3 on 4. From the coracoid the clavicle is 100 up in the body,
    # which is 60 to the right and 80 up in the picture.
    points: dict[str, Point] = {
        "horizon_left": (100, 100),
        "horizon_right": (500, 400),
        "coracoid_top_injured": (600, 900),
        "clavicle_under_injured": (660, 820),
    }
    measures = landmarks.measure(points, TENTH)
    assert measures.injured.ccd_mm == pytest.approx(10)
    assert measures.tilt_deg == pytest.approx(36.87, abs=0.005)
    level = landmarks.measure({k: v for k, v in points.items() if "horizon" not in k}, TENTH)
    assert level.injured.ccd_mm == pytest.approx(8)


def test_what_is_not_marked_yet_is_listed_in_order() -> None:
    assert landmarks.missing(MARKED, both_sides=True) == ()
    assert landmarks.missing(without("horizon_right", "coracoid_top_other"), both_sides=True) == (
        "coracoid, its highest point, other side",
        "horizontal, its counterpart on the right",
    )
    assert len(landmarks.names(both_sides=False)) == 4


def test_a_distance_needs_both_its_ends() -> None:
    assert (
        "without it there is no distance"
        in found(without("coracoid_top_injured"))["coracoid_top_injured"]
    )
    assert (
        "take away the clavicle, upper cortex"
        in found(without("acromion_level_other"))["acromion_level_other"]
    )
    assert "horizon_left" in found(without("horizon_left"))
    # The other side and the joint may be left out on a calibrated film.
    fewest = {name: MARKED[name] for name in ("coracoid_top_injured", "clavicle_under_injured")}
    assert found(fewest) == {}
    assert found(fewest, both=False) == {}


def test_a_film_without_calibration_needs_the_other_side() -> None:
    faults = found(without("coracoid_top_other", "clavicle_under_other"), calibration.none())
    assert set(faults) == {"coracoid_top_other", "clavicle_under_other"}
    assert "only the ratio of both sides" in faults["coracoid_top_other"]
    one_side = {name: at for name, at in MARKED.items() if name.endswith("_injured")}
    (told, _) = found(one_side, calibration.none(), both=False).values()
    assert "nothing can be measured on it" in told


@pytest.mark.parametrize("at", [(-1, 5), (5, 1501), (2401, 5), (math.nan, 5), (5, math.inf)])
def test_a_mark_outside_the_picture_is_refused(at: Point) -> None:
    faults = found({**MARKED, "coracoid_top_injured": at})
    assert "outside the picture (2400 by 1500 pixels)" in faults["coracoid_top_injured"]


def test_a_mark_that_the_film_cannot_show_is_refused() -> None:
    assert "no landmark" in found({**MARKED, "elbow": (5, 5)})["elbow"]
    assert "coracoid_top_other" in found(MARKED, both=False)


def test_a_clavicle_at_or_below_the_coracoid_is_refused() -> None:
    for y in (700, 760):
        faults = found({**MARKED, "clavicle_under_injured": (510, y)})
        assert "check both marks" in faults["clavicle_under_injured"]


def test_one_point_for_both_coracoids_is_refused() -> None:
    faults = found({**MARKED, "coracoid_top_other": (500, 700), "clavicle_under_other": (500, 600)})
    assert "same point" in faults["coracoid_top_other"]


@pytest.mark.parametrize(
    ("at", "says"), [((450, 900), "coincide"), ((460, 1400), "tilted by 89 degrees")]
)
def test_an_impossible_horizontal_is_refused(at: Point, says: str) -> None:
    assert says in found({**MARKED, "horizon_right": at})["horizon_right"]


def drawn(point: Point, angle: float, scale: float, aspect: float = 1.0) -> Point:
    """Return where a point of the level film falls on one that was turned, magnified and resampled."""
    x, y = point[0] - 1200, point[1] - 750
    across = 1200 + scale * (x * math.cos(angle) - y * math.sin(angle))
    down = 750 + scale * (x * math.sin(angle) + y * math.cos(angle))
    return across, down / aspect


@given(st.floats(-0.75, 0.75), st.floats(0.2, 5), st.floats(0.4, 2.5))
def test_turn_size_and_pixels_of_a_film_change_nothing(
    angle: float, size: float, aspect: float
) -> None:
    plain = landmarks.measure(MARKED, TENTH)
    points = {name: drawn(point, angle, size, aspect) for name, point in MARKED.items()}
    scale = PixelScale("marker", 0.1 / size * aspect, 0.1 / size, aspect)
    measures = landmarks.measure(points, scale)
    assert measures.tilt_deg == pytest.approx(math.degrees(angle), abs=1e-6)
    assert measures.ratio_pct == pytest.approx(plain.ratio_pct)
    for side in ("injured", "other"):
        before, after = getattr(plain, side), getattr(measures, side)
        assert after.ccd_mm == pytest.approx(before.ccd_mm)
        assert after.acd_mm == pytest.approx(before.acd_mm, abs=1e-9)
        assert after.straight_mm == pytest.approx(before.straight_mm)


@given(st.floats(0.2, 5), st.floats(-300, 300), st.floats(-300, 300))
def test_the_ratio_needs_no_calibration(size: float, right: float, down: float) -> None:
    moved = {name: (x * size + right, y * size + down) for name, (x, y) in MARKED.items()}
    assert landmarks.measure(moved, calibration.none()).ratio_pct == pytest.approx(50)


@given(st.floats(-3, 3), st.floats(-3, 3))
def test_marks_a_few_pixels_off_move_the_distance_by_no_more(dx: float, dy: float) -> None:
    x, y = MARKED["clavicle_under_injured"]
    moved = {**MARKED, "clavicle_under_injured": (x + dx, y + dy)}
    change = landmarks.measure(moved, TENTH).injured.ccd_px - 120  # type: ignore[operator]
    assert abs(change) <= math.hypot(dx, dy) + 1e-9
