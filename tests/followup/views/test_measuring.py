"""The measuring page: what it shows, what it refuses, and that it works by typing alone."""

import re
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import FilmImage, ImageCalibration, Reading
from registry.models import Person
from tests import builders
from tests.followup.pictured import HEADER, POINTS, RIM, calibrate, film, image, read

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, film_reader: Person) -> Client:
    client.force_login(film_reader)
    return client


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def where(shown: FilmImage, what: str = "image-measure") -> str:
    return reverse(what, args=[shown.pk])


def typed(points: dict[str, tuple[float, float]] | None = None, **changes: str) -> dict[str, str]:
    """Return what a browser sends, with or without script."""
    sent = {}
    for name, (x, y) in (POINTS if points is None else points).items():
        sent |= {f"{name}_x": f"{x:.1f}", f"{name}_y": f"{y:.1f}"}
    rest = {"version": "0", "translation_pct": "", "translation_pct_why": ""}
    return {**sent, **rest, "union": "partial", "hardware": "intact", **changes}


def rim() -> str:
    return "\n".join(f"{x} {y}" for x, y in RIM)


def test_the_page_shows_the_film_what_to_mark_and_the_offers_of_its_header(here: Client) -> None:
    shown = image(**HEADER)
    page = here.get(where(shown))
    assert reverse("image-frame", args=[shown.pk, 1]) in page.content.decode()
    assert 'viewBox="0 0 1600 1000.00"' in page.content.decode()
    words = text(page)
    assert "Coracoid, its highest point, injured side" in words
    assert "Horizontal, its counterpart on the right" in words
    assert "The file: pixel spacing corrected for magnification" in words
    assert "not calibrated: ratios only (nobody has said yet)" in words
    assert shown.film.injury.patient.identity.family_name not in words


def test_pixels_that_are_not_square_are_shown_in_their_shape(here: Client) -> None:
    page = here.get(where(image(imager_spacing_mm=[0.2, 0.1]))).content.decode()
    assert 'viewBox="0 0 1600 2000.00' in page


def test_typed_coordinates_make_a_measured_reading(here: Client, film_reader: Person) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    answer = here.post(where(shown), typed(), follow=True)
    reading = Reading.objects.get()
    assert (reading.ccd_injured_mm, reading.ccd_other_mm) == (Decimal("12.0"), Decimal("8.0"))
    assert (reading.reader, reading.blind, reading.union) == (film_reader, True, "partial")
    assert reading.flags == []
    assert "You read this film on 25 Nov 2026 (measured on the picture, pixel spacing" in text(
        answer
    )
    assert 'value="580.0"' in answer.content.decode()


def test_what_is_missing_stands_by_its_mark_and_nothing_is_saved(here: Client) -> None:
    shown = image()
    fewest = {name: POINTS[name] for name in ("coracoid_top_injured", "clavicle_under_injured")}
    answer = here.post(where(shown), typed(fewest, clavicle_level_other_x="5"))
    assert "Write both the column and the row, or neither." in text(answer)
    answer = here.post(where(shown), typed(fewest))
    assert "Coracoid, its highest point, other side: Mark it" in text(answer)
    assert not Reading.objects.exists()


def test_an_unusual_distance_is_asked_about_once_and_flagged(here: Client) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    far = {**POINTS, "clavicle_under_injured": (300.0, 200.0)}
    answer = here.post(where(shown), typed(far))
    assert "50 mm is unusual" in text(answer)
    assert not Reading.objects.exists()
    here.post(where(shown), typed(far, checked="on"))
    assert Reading.objects.get().flags == ["ccd_injured_mm", "ccd_side_ratio_pct"]


def test_an_impossible_distance_is_refused(here: Client) -> None:
    shown = image(pixel_spacing_mm=[1.0, 1.0], pixel_spacing_kind="FIDUCIAL")
    calibrate(shown, "fiducial")
    answer = here.post(where(shown), typed(checked="on"))
    assert "120 mm is not possible" in text(answer)
    assert not Reading.objects.exists()


def test_a_reading_saved_meanwhile_is_shown_beside_ones_own(
    here: Client, film_reader: Person
) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    read(shown, film_reader, union="united")
    answer = here.post(where(shown), typed())
    assert answer.status_code == 409
    assert "Somebody else saved this first" in text(answer)
    assert Reading.objects.count() == 1
    here.post(where(shown), typed(version="1"))
    assert Reading.objects.get(superseded_by__isnull=True).union == "partial"


def test_the_first_reading_is_hidden_from_the_second_reader(here: Client, surgeon: Person) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    read(shown, surgeon)
    page = here.get(where(shown) + "?show=others").content.decode()
    assert "580.0" not in page
    assert str(surgeon) not in page


def test_a_marker_calibrates_by_typed_points(here: Client) -> None:
    shown = image()
    sent = {"version": "0", "how": "marker", "diameter_mm": "25", "rim": rim()}
    answer = here.post(where(shown, "image-calibrate"), sent, follow=True)
    assert ImageCalibration.objects.get().mm_per_pixel_column == pytest.approx(0.125)
    assert "marker of 25 mm, 8 points on its rim, residual 0.0 px (0.00 mm)" in text(answer)
    assert "A marker 1 cm nearer" in text(answer)
    # What was typed stands there again, so that it can be corrected.
    assert "900.0 300.0" in answer.content.decode()


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"rim": "1 2\nhere"}, "Line 2 is not a column and a row: 'here'."),
        ({"rim": "1 2\n3 4\n5 5"}, "a circle needs 4 points on its rim, got 3"),
        ({"rim": "\n".join(["1 2"] * 61)}, "At most 60 points"),
        ({"diameter_mm": ""}, "Write the marker's diameter in mm"),
        ({"how": ""}, "This field is required"),
        ({"how": "geometry"}, "is not one of the available choices"),
    ],
)
def test_a_calibration_that_cannot_be_is_refused_in_words(
    here: Client, changes: dict[str, str], says: str
) -> None:
    sent = {"version": "0", "how": "marker", "diameter_mm": "25", "rim": rim(), **changes}
    answer = here.post(where(image(), "image-calibrate"), sent)
    assert says in text(answer)
    assert not ImageCalibration.objects.exists()


def test_a_calibration_that_somebody_else_saved_is_not_overwritten(here: Client) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    answer = here.post(where(shown, "image-calibrate"), {"version": "0", "how": "none"})
    assert answer.status_code == 409
    assert ImageCalibration.objects.get().how == "geometry"


def test_readings_of_an_earlier_calibration_say_so_and_are_worked_out_anew(
    here: Client, film_reader: Person
) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    read(shown, film_reader)
    calibrate(shown, "marker", diameter_mm=25, rim=RIM)
    page = text(here.get(where(shown)))
    assert "the calibration was corrected since" in page
    assert "1 reading of this picture was made with an earlier calibration" in page
    answer = here.post(where(shown, "image-measure-again"), follow=True)
    assert "Worked out anew with the present calibration: 1 reading." in text(answer)
    assert Reading.objects.get(superseded_by__isnull=True).ccd_injured_mm == Decimal("15.0")
    assert "earlier calibration" not in text(answer)


def test_a_reading_opens_again_on_the_frame_that_was_measured(here: Client) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    FilmImage.everything.filter(pk=shown.pk).update(frames=3)
    here.post(where(shown) + "?frame=2", typed())
    assert Reading.objects.get().landmarks["frame"] == 2
    again = here.get(where(shown)).content.decode()
    assert reverse("image-frame", args=[shown.pk, 2]) in again
    here.post(where(shown), typed(version="1"))
    assert Reading.objects.get(superseded_by__isnull=True).landmarks["frame"] == 2
    third = here.get(where(shown) + "?frame=3").content.decode()
    assert reverse("image-frame", args=[shown.pk, 3]) in third


def test_the_reading_page_leads_to_its_pictures(here: Client) -> None:
    shown = image(film(shows_both_sides=False))
    page = here.get(reverse("films-read", args=[shown.film_id])).content.decode()
    assert where(shown) in page
    assert "Coracoid, its highest point, other side" not in text(here.get(where(shown)))


def test_findings_are_asked_beside_the_marks_and_kept_when_measured_anew(here: Client) -> None:
    shown = image(**HEADER)
    calibrate(shown)
    answers = {"finding_screw_broken": "present:shaft", "finding_plate_broken": "absent"}
    bridged = {"cortices_bridged": "1", "fracture_line": "visible"}
    here.post(where(shown), typed(**{"hardware": ""}, **answers, **bridged))
    calibrate(shown, "marker", diameter_mm=25, rim=RIM)
    here.post(where(shown, "image-measure-again"))
    first, again = Reading.objects.order_by("id")
    assert first.superseded_by == again
    assert again.ccd_injured_mm == Decimal("15.0")
    found = [(one.kind, one.state, one.place) for one in again.findings.all()]
    assert found == [("screw_broken", "present", "shaft"), ("plate_broken", "absent", "")]
    assert (again.hardware, again.cortices_bridged, again.fracture_line) == ("broken", 1, "visible")
    page = here.get(where(shown)).content.decode()
    assert '<option value="present:shaft" selected>' in page
