"""Measuring on films by hand: calibrated, marked, saved, and what the definition makes of it."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Page, expect

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.selectors import frames
from analytics.simulation.setting import PASSWORD
from followup.models import FilmImage, Reading
from followup.services import films, images
from registry.models import Injury, Procedure
from tests import builders, synthetic_films
from tests.browser.visitor import Visitor
from tests.synthetic_films import Point, Shoulders

pytestmark = pytest.mark.browser

FIRST, LATER = date(2026, 6, 8), date(2026, 7, 17)
# Where on the screen a place of the film is.
ON_SCREEN = """at => {
  const stage = document.querySelector('[data-stage]');
  const aspect = JSON.parse(document.getElementById('measure-data').textContent).aspect;
  const found = new DOMPoint(at[0], at[1] * aspect).matrixTransform(stage.getScreenCTM());
  return [found.x, found.y];
}"""


@pytest.fixture
def reader(live_server: Any) -> str:
    """Return the name of somebody who reads films and can sign in."""
    builders.load_defaults()
    person = builders.person("fred", north="film_reader")
    person.set_password(PASSWORD)
    person.save()
    return person.username


@pytest.fixture
def operation(reader: str) -> Procedure:
    return builders.procedure()


@dataclass(frozen=True)
class Shown:
    """A drawn film as a reader sees it: its file, where its marks lie, and how large its pixels are."""

    drawn: Shoulders
    sent: bytes
    facts: dict[str, Any]
    points: dict[str, Point]
    rim: list[Point]
    pixel_mm: float

    @property
    def ratio_pct(self) -> float:
        return (self.drawn.cc_injured_mm / self.drawn.cc_other_mm - 1) * 100


def shown(drawn: Shoulders, every: int = 1) -> Shown:
    """Draw a film; of `every` rows one is kept, so that a pixel is that much higher than wide."""
    film = synthetic_films.draw(drawn)
    held = BytesIO()
    Image.fromarray((film.values[::every] >> 4).astype(np.uint8)).save(held, "PNG")
    (x, y), radius = film.marker_centre, film.marker_radius_px
    turns = [math.tau * n / 8 for n in range(8)]
    round_it = [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]

    def place(at: Point) -> Point:
        # There the middle of the first pixel is 0, here its upper left corner.
        return at[0] + 0.5, at[1] / every + 0.5

    spacing = drawn.imager_spacing_mm
    return Shown(
        drawn,
        held.getvalue(),
        {"imager_spacing_mm": [spacing * every, spacing], "magnification": drawn.magnification},
        {name: place(at) for name, at in film.landmarks.items()},
        [place(at) for at in round_it],
        film.mm_per_pixel * every,
    )


def pictured(injury: Injury, on: date, film: Shown, *, header: bool) -> FilmImage:
    """Keep a drawn film of an injury, with or without what a header says of its pixels."""
    by, now = injury.recorded_by, builders.NOW
    row = films.record_film(
        injury=injury,
        values={"taken_on": on, "view": "zanca", "posture": "upright", "shows_both_sides": True},
        by=by,
        now=now,
        today=builders.TODAY,
    )
    image = images.add_image(film=row, content=ContentFile(film.sent), by=by, now=now)
    if header:
        FilmImage.everything.filter(pk=image.pk).update(facts={**image.facts, **film.facts})
    return image


def mark(page: Page, at: Point) -> None:
    """Magnify a place of the film by the wheel, set the mark there, and see the whole film again."""
    page.mouse.move(*page.evaluate(ON_SCREEN, list(at)))
    page.mouse.wheel(0, -1200)
    page.wait_for_function("document.querySelector('[data-stage]').viewBox.baseVal.width < 900")
    page.mouse.click(*page.evaluate(ON_SCREEN, list(at)))
    page.keyboard.press("0")


def by_marker(page: Page, film: Shown) -> None:
    page.get_by_label("Where is the size of a pixel known from?").select_option("marker")
    page.get_by_label("Diameter of the marker, mm").fill(f"{film.drawn.marker_mm:g}")
    page.get_by_role("button", name="Mark the rim on the film").click()
    for at in film.rim:
        mark(page, at)
    expect(page.locator("[data-out=marker]")).to_contain_text("Circle through 8 points")
    page.get_by_role("button", name="Save the size of a pixel").click()


def by_header(page: Page, film: Shown) -> None:
    page.get_by_label("Where is the size of a pixel known from?").select_option("magnification")
    page.get_by_role("button", name="Save the size of a pixel").click()


def measure(visitor: Visitor, image: FilmImage, film: Shown, calibrate: Any) -> Reading:
    """Calibrate a film and set every mark where it truly lies; return the saved reading."""
    visitor.open(f"/films/images/{image.pk}/measure/")
    page = visitor.page
    calibrate(page, film)
    visitor.reads("Saved: how large a pixel of this picture is.")
    for at in film.points.values():
        mark(page, at)
    expect(page.get_by_text("All marks are set.")).to_be_visible()
    shown = page.locator("[data-out=ccd_injured]").inner_text()
    page.get_by_label("Union").select_option("partial")
    page.get_by_label("Hardware on the film").select_option("intact")
    visitor.press("Save the reading")
    visitor.reads("Saved: your reading")
    reading = Reading.objects.get(image=image, superseded_by__isnull=True)
    # What was shown is what the service worked out.
    assert shown.startswith(f"{reading.ccd_injured_mm} mm")
    return reading


@pytest.mark.parametrize(
    ("calibrate", "drawn", "every", "later_mm", "lost"),
    [
        (by_marker, Shoulders(rotation_deg=5, cc_injured_mm=10.6), 1, 14.8, True),
        (by_header, Shoulders(rotation_deg=-6, cc_injured_mm=10.6), 2, 12.2, False),
    ],
    ids=["marker", "header, pixels not square"],
)
def test_marks_set_by_hand_give_the_true_distances_and_the_definition_judges_them(
    arrive: Callable[..., Visitor],
    reader: str,
    operation: Procedure,
    calibrate: Any,
    drawn: Shoulders,
    every: int,
    later_mm: float,
    lost: bool,
) -> None:
    visitor = arrive()
    visitor.sign_in(reader)
    for on, injured_mm in ((FIRST, drawn.cc_injured_mm), (LATER, later_mm)):
        film = shown(replace(drawn, cc_injured_mm=injured_mm), every)
        image = pictured(operation.injury, on, film, header=calibrate is by_header)
        reading = measure(visitor, image, film, calibrate)
        injured, other = float(reading.ccd_injured_mm or 0), float(reading.ccd_other_mm or 0)
        assert injured == pytest.approx(injured_mm, abs=film.pixel_mm)
        assert other == pytest.approx(drawn.cc_other_mm, abs=film.pixel_mm)
        assert (injured / other - 1) * 100 == pytest.approx(film.ratio_pct, abs=2)
        raised = float(reading.acd_injured_mm or 0)
        assert raised == pytest.approx(drawn.ac_injured_mm, abs=film.pixel_mm)
    built = frames.build([operation.site_id], timezone.localdate())
    verdict = built.verdicts(DEFINITIONS["rise-3mm"]).loc[operation.pk]
    assert verdict["not_evaluable"] == ""
    assert verdict["baseline_on"].date() == FIRST
    assert str(verdict["event_on"])[:10] == (str(LATER) if lost else "NaT")


def test_a_film_is_measured_by_the_keyboard_alone_and_reopened_on_a_phone(
    arrive: Callable[..., Visitor], reader: str, operation: Procedure
) -> None:
    film = shown(Shoulders(seed=3))
    image = pictured(operation.injury, LATER, film, header=False)
    visitor = arrive(360)
    visitor.sign_in(reader)
    visitor.open(f"/films/images/{image.pk}/measure/")
    page = visitor.page
    visitor.finds_no_barrier()
    expect(
        page.get_by_text("Next mark: coracoid, its highest point, injured side.")
    ).to_be_visible()
    page.locator("[data-stage]").focus()
    keys = page.keyboard
    keys.press("Enter")
    set_mark = page.get_by_role("button", name="coracoid, its highest point, injured side, column")
    expect(set_mark).to_be_focused()
    middle = [image.columns / 2, image.rows / 2]
    column, row = (page.locator(f"[name=coracoid_top_injured_{axis}]") for axis in "xy")
    keys.press("ArrowRight")
    keys.press("Shift+ArrowUp")
    assert float(column.input_value()) == pytest.approx(middle[0] + 1, abs=0.1)
    assert float(row.input_value()) == pytest.approx(middle[1] - 10, abs=0.1)
    keys.press("Delete")
    assert column.input_value() == ""
    keys.press("u")
    assert float(column.input_value()) == pytest.approx(middle[0] + 1, abs=0.1)
    page.get_by_text("Where the marks stand, in pixels").click()
    for name, at in film.points.items():
        page.locator(f"[name={name}_x]").fill(f"{at[0]:.1f}")
        page.locator(f"[name={name}_y]").fill(f"{at[1]:.1f}")
    expect(page.get_by_text("All marks are set.")).to_be_visible()
    page.get_by_label("Union").select_option("united")
    page.get_by_label("Hardware on the film").select_option("intact")
    visitor.finds_no_barrier()
    visitor.press("Save the reading")
    visitor.reads("Saved: your reading")
    visitor.reads("ratios only")
    reading = Reading.objects.get(image=image)
    # Nobody calibrated the film.
    assert reading.ccd_injured_mm is None
    assert float(reading.ccd_side_ratio_pct or 0) == pytest.approx(film.ratio_pct, abs=2)
    expect(page.get_by_text("All marks are set.")).to_be_visible()
    expect(page.locator("[data-mark]")).to_have_count(len(film.points))
    visitor.finds_no_barrier()
