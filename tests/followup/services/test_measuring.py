"""Calibrations and measured readings: worked out on the server, superseded, never overwritten."""

from decimal import Decimal
from typing import Any

import pytest

from followup import notices
from followup.models import ImageCalibration, Reading
from followup.services import measuring
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person
from tests.builders import NOW, TODAY
from tests.followup.pictured import HEADER, POINTS, RIM, calibrate, film, image, read

pytestmark = pytest.mark.django_db


def without(*names: str) -> dict[str, tuple[float, float]]:
    return {name: at for name, at in POINTS.items() if name not in names}


def again(of: Any, by: Person) -> list[Reading]:
    return measuring.measure_again(image=of, by=by, now=NOW, today=TODAY)


def test_a_calibration_by_the_header_is_stored_with_where_it_came_from(surgeon: Person) -> None:
    shown = image(**HEADER)
    row = calibrate(shown, by=surgeon)
    assert (row.how, row.mm_per_pixel_row, row.mm_per_pixel_column) == ("geometry", 0.1, 0.1)
    assert row.facts == {"spacing_mm": [0.1, 0.1]}
    assert (row.recorded_by, row.site, row.version) == (surgeon, shown.site, 1)
    shown.film.refresh_from_db()
    assert shown.film.calibration == "detector"


def test_a_calibration_by_a_marker_keeps_its_rim_and_residual() -> None:
    shown = image()
    row = calibrate(shown, "marker", diameter_mm=25, rim=RIM)
    # 25 mm over a diameter of 200 px.
    assert row.mm_per_pixel_column == pytest.approx(0.125)
    assert row.facts["residual_px"] == pytest.approx(0, abs=1e-6)
    assert row.facts["rim"] == [[x, y] for x, y in RIM]
    shown.film.refresh_from_db()
    assert shown.film.calibration == "marker"


def test_at_the_detector_no_length_counts() -> None:
    shown = image(imager_spacing_mm=[0.14, 0.14])
    row = calibrate(shown, "detector")
    assert row.mm_per_pixel_column == 0.14
    shown.film.refresh_from_db()
    assert shown.film.calibration == "none"
    reading = read(shown)
    assert reading.ccd_injured_mm is None
    assert reading.ccd_side_ratio_pct == Decimal("50.0")
    assert "at the detector" in reading.origin


@pytest.mark.parametrize(
    ("how", "given", "field", "says"),
    [
        ("geometry", {}, "how", "does not say this"),
        ("magic", {}, "how", "does not say this"),
        ("marker", {"diameter_mm": None, "rim": RIM}, "diameter_mm", "diameter in mm"),
        ("marker", {"diameter_mm": 25, "rim": RIM[:3]}, "rim", "needs 4 points"),
    ],
)
def test_a_calibration_that_gives_no_size_is_refused(
    how: str, given: dict[str, Any], field: str, says: str
) -> None:
    with pytest.raises(BadInput) as refused:
        calibrate(image(), how, **given)
    assert says in refused.value.faults[field]
    assert not ImageCalibration.objects.exists()


def test_a_corrected_calibration_supersedes_and_readings_keep_their_numbers() -> None:
    shown = image(**HEADER)
    first = calibrate(shown)
    reading = read(shown)
    second = calibrate(shown, "marker", diameter_mm=25, rim=RIM, expected_version=1)
    first.refresh_from_db()
    reading.refresh_from_db()
    assert first.superseded_by == second
    assert second.superseded_by is None
    assert reading.ccd_injured_mm == Decimal("12.0")
    assert reading.origin.endswith("the calibration was corrected since")


def test_a_calibration_is_corrected_as_often_as_it_takes() -> None:
    shown = image(**HEADER)
    rows = [calibrate(shown, how) for how in ("geometry", "none", "geometry", "none")]
    for row in rows:
        row.refresh_from_db()
    assert [row.superseded_by for row in rows] == [*rows[1:], None]


def test_nobody_corrects_a_calibration_that_they_have_not_seen() -> None:
    shown = image(**HEADER)
    calibrate(shown, expected_version=0)
    with pytest.raises(StaleVersion):
        calibrate(shown, "none", expected_version=0)
    assert ImageCalibration.objects.get().how == "geometry"


def test_a_film_is_calibrated_while_one_of_its_pictures_is() -> None:
    whose = film()
    one, other = image(whose, **HEADER), image(whose)
    calibrate(one)
    calibrate(other, "none")
    whose.refresh_from_db()
    assert whose.calibration == "detector"
    calibrate(one, "none")
    whose.refresh_from_db()
    assert whose.calibration == "none"


def test_a_reading_is_worked_out_from_its_marks() -> None:
    shown = image(**HEADER)
    used = calibrate(shown)
    heard = []

    def listen(reading: Reading, **_: Any) -> None:
        heard.append(reading)

    notices.reading_recorded.connect(listen)
    reading = read(shown, union="partial", hardware="intact")
    notices.reading_recorded.disconnect(listen)
    reading.refresh_from_db()
    assert (reading.ccd_injured_mm, reading.ccd_other_mm) == (Decimal("12.0"), Decimal("8.0"))
    # On a calibrated film the ratio follows from the lengths.
    assert reading.ccd_side_ratio_pct is None
    assert (reading.acd_injured_mm, reading.acd_other_mm) == (Decimal("4.0"), None)
    assert reading.missing == {"ccd_side_ratio_pct": "not_applicable", "acd_other_mm": "not_done"}
    assert (reading.image, reading.calibration_used) == (shown, used)
    assert reading.landmarks == {
        "frame": 1,
        "points": {name: [float(x), float(y)] for name, (x, y) in POINTS.items()},
    }
    assert (reading.union, reading.hardware) == ("partial", "intact")
    assert heard == [reading]
    assert AuditEntry.objects.filter(table="followup_reading", row_id=reading.pk).exists()


def test_numbers_that_come_with_the_marks_are_not_believed() -> None:
    shown = image(**HEADER)
    calibrate(shown)
    reading = read(shown, ccd_injured_mm=Decimal("3.0"), missing={"ccd_injured_mm": "unknown"})
    assert reading.ccd_injured_mm == Decimal("12.0")
    assert "ccd_injured_mm" not in reading.missing


def test_without_calibration_only_the_ratio_is_recorded() -> None:
    reading = read(image())
    assert reading.ccd_injured_mm is reading.ccd_other_mm is reading.acd_injured_mm is None
    assert reading.ccd_side_ratio_pct == Decimal("50.0")
    assert reading.missing["ccd_injured_mm"] == "not_applicable"
    assert reading.origin == "measured on the picture, not calibrated: ratios only"


def test_pixels_that_are_not_square_are_known_without_calibration() -> None:
    # Twice as high as wide: the film's own tilt and lengths count rows double.
    shown = image(imager_spacing_mm=[0.2, 0.1])
    tilted = {**POINTS, "horizon_right": (1300, 950)}
    assert read(shown, points=tilted).ccd_side_ratio_pct == Decimal("50.0")
    assert measuring.scale_of(shown, None).aspect == 2


def test_a_film_of_one_side_gives_its_length_alone() -> None:
    shown = image(film(shows_both_sides=False), **HEADER)
    calibrate(shown)
    fewest = {name: POINTS[name] for name in ("coracoid_top_injured", "clavicle_under_injured")}
    reading = read(shown, points=fewest)
    assert reading.ccd_injured_mm == Decimal("12.0")
    assert reading.missing == {
        "ccd_other_mm": "not_applicable",
        "ccd_side_ratio_pct": "not_applicable",
        "acd_injured_mm": "not_done",
        "acd_other_mm": "not_applicable",
    }


def test_marks_that_are_missing_or_impossible_are_refused_and_nothing_is_saved() -> None:
    shown = image(**HEADER)
    calibrate(shown)
    with pytest.raises(BadInput) as refused:
        read(shown, points=without("coracoid_top_injured"))
    assert "without it there is no distance" in refused.value.faults["coracoid_top_injured"]
    with pytest.raises(BadInput) as refused:
        read(shown, points={**POINTS, "coracoid_top_other": (1300, 1200)})
    assert "outside the picture" in refused.value.faults["coracoid_top_other"]
    assert not Reading.objects.exists()


def test_a_second_measurement_supersedes_the_first_of_its_reader() -> None:
    shown = image(**HEADER)
    calibrate(shown)
    first = read(shown)
    second = read(shown, points={**POINTS, "coracoid_top_injured": (300, 710)}, expected_version=1)
    first.refresh_from_db()
    assert first.superseded_by == second
    assert second.ccd_injured_mm == Decimal("13.0")
    with pytest.raises(StaleVersion):
        read(shown, expected_version=0)


def test_older_readings_are_worked_out_anew_by_one_act(
    surgeon: Person, film_reader: Person
) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    mine = read(shown, surgeon, union="united", translation_pct=20, blind=False)
    blind = read(shown, film_reader, blind=True, missing={"translation_pct": "unknown"})
    calibrate(shown, "marker", diameter_mm=25, rim=RIM)
    done = again(shown, surgeon)
    assert [row.reader for row in done] == [surgeon, film_reader]
    # 0.125 mm a pixel instead of 0.1.
    assert {row.ccd_injured_mm for row in done} == {Decimal("15.0")}
    assert (done[0].union, done[0].translation_pct, done[0].blind) == ("united", 20, False)
    assert (done[1].blind, done[1].missing["translation_pct"]) == (True, "unknown")
    for row, new in ((mine, done[0]), (blind, done[1])):
        row.refresh_from_db()
        assert row.superseded_by == new
        assert row.ccd_injured_mm == Decimal("12.0")
    assert again(shown, surgeon) == []


def test_nothing_is_worked_out_anew_without_a_calibration(surgeon: Person) -> None:
    shown = image()
    read(shown, surgeon)
    assert again(shown, surgeon) == []
    assert Reading.objects.count() == 1
