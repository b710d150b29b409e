"""Drawn films in the browser: sent, calibrated, and marked where their landmarks truly lie."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from django.urls import reverse
from playwright.sync_api import Page, expect

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Point, Shoulders
from followup.models import FilmImage, Reading
from tests.browser.visitor import Visitor

# Where on the screen a place of the film is.
ON_SCREEN = """at => {
  const stage = document.querySelector('[data-stage]');
  const aspect = JSON.parse(document.getElementById('measure-data').textContent).aspect;
  const found = new DOMPoint(at[0], at[1] * aspect).matrixTransform(stage.getScreenCTM());
  return [found.x, found.y];
}"""


@dataclass(frozen=True)
class Shown:
    """A drawn film as a reader sees it: its files, where its marks lie, and how large its pixels are."""

    drawn: Shoulders
    png: bytes
    dicom: bytes
    points: dict[str, Point]
    rim: list[Point]
    pixel_mm: float

    @property
    def ratio_pct(self) -> float:
        """By how much the injured side is wider than the other, in per cent of the other."""
        return (self.drawn.cc_injured_mm / self.drawn.cc_other_mm - 1) * 100


def shown(drawn: Shoulders, on: date, every: int = 1) -> Shown:
    """Draw a film of a day; of `every` rows one is kept: a pixel is that many times as high as wide."""
    film = shoulder_films.draw(drawn)
    (x, y), radius = film.marker_centre, film.marker_radius_px
    turns = [math.tau * n / 8 for n in range(8)]
    round_it = [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]

    def place(at: Point) -> Point:
        # There the middle of the first pixel is 0, here its upper left corner.
        return at[0] + 0.5, at[1] / every + 0.5

    spacing = drawn.imager_spacing_mm
    thinned = replace(film, values=film.values[::every]).with_header(
        ImagerPixelSpacing=[spacing * every, spacing], StudyDate=f"{on:%Y%m%d}"
    )
    return Shown(
        drawn,
        thinned.png(),
        thinned.dicom(),
        {name: place(at) for name, at in film.landmarks.items()},
        [place(at) for at in round_it],
        film.mm_per_pixel * every,
    )


def send(visitor: Visitor, film: Path) -> None:
    """Send a film from the page of those that wait, and open it there."""
    visitor.open(reverse("incoming"))
    page = visitor.page
    page.locator("[name=films]").set_input_files(str(film))
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_role("heading", name="Whose film is this?")).to_be_visible()


def mark(page: Page, at: Point) -> None:
    """Magnify a place of the film by the wheel, set the mark there, and see the whole film again."""
    page.mouse.move(*page.evaluate(ON_SCREEN, list(at)))
    page.mouse.wheel(0, -1200)
    # Asked from outside: the page's policy lets nothing evaluate a text from within.
    while page.evaluate("document.querySelector('[data-stage]').viewBox.baseVal.width") >= 900:
        page.wait_for_timeout(50)
    page.mouse.click(*page.evaluate(ON_SCREEN, list(at)))
    page.keyboard.press("0")


def by_marker(page: Page, film: Shown) -> None:
    """Say that a pixel's size is known from the marker, and mark its rim."""
    page.get_by_label("Where is the size of a pixel known from?").select_option("marker")
    page.get_by_label("Diameter of the marker, mm").fill(f"{film.drawn.marker_mm:g}")
    page.get_by_role("button", name="Mark the rim on the film").click()
    for at in film.rim:
        mark(page, at)
    expect(page.locator("[data-out=marker]")).to_contain_text("Circle through 8 points")
    page.get_by_role("button", name="Save the size of a pixel").click()


def by_header(page: Page, film: Shown) -> None:
    """Say that a pixel's size is known from what the file says of the magnification."""
    page.get_by_label("Where is the size of a pixel known from?").select_option("magnification")
    page.get_by_role("button", name="Save the size of a pixel").click()


Calibrate = Callable[[Page, Shown], None]


def measure(visitor: Visitor, image: FilmImage, film: Shown, calibrate: Calibrate) -> Reading:
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
