"""Films in the browser: sent, given to a patient, calibrated, marked, saved, and then judged."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone
from playwright.sync_api import expect

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.selectors import frames
from analytics.simulation.setting import PASSWORD
from analytics.simulation.shoulder_films import Shoulders
from followup.models import FilmImage, Reading
from followup.services import films, images
from registry.models import Injury, Procedure
from tests import builders
from tests.browser.drawn_films import (
    ON_SCREEN,
    Calibrate,
    Shown,
    by_header,
    by_marker,
    measure,
    send,
    shown,
)
from tests.browser.visitor import Visitor

pytestmark = pytest.mark.browser

FIRST, LATER = date(2026, 6, 8), date(2026, 7, 17)


def who_signs_in(username: str, role: str) -> str:
    person = builders.person(username, north=role)
    person.set_password(PASSWORD)
    person.save()
    return username


@pytest.fixture
def reader(live_server: Any) -> str:
    """Return the name of somebody who reads films and can sign in."""
    builders.load_defaults()
    return who_signs_in("fred", "film_reader")


@pytest.fixture
def operation(reader: str) -> Procedure:
    return builders.procedure()


def pictured(injury: Injury, on: date, film: Shown) -> FilmImage:
    """Keep a drawn film of an injury."""
    by, now = injury.recorded_by, builders.NOW
    row = films.record_film(
        injury=injury,
        values={"taken_on": on, "view": "zanca", "posture": "upright", "shows_both_sides": True},
        by=by,
        now=now,
        today=builders.TODAY,
    )
    return images.add_image(film=row, content=ContentFile(film.png), by=by, now=now)


def given(visitor: Visitor, injury: Injury, on: date, file: Path) -> FilmImage:
    """Send a file and say whose film it is; what its header says is proposed already."""
    send(visitor, file)
    page = visitor.page
    page.get_by_label("Name, number or key", exact=True).fill(injury.patient.key)
    page.get_by_role("button", name="Look").click()
    page.locator(".offered a.button").click()
    said = file.suffix == ".dcm"
    view, taken = page.get_by_label("View"), page.get_by_label("Taken on")
    assert (view.input_value() == "zanca", taken.input_value() == f"{on}") == (said, said)
    taken.fill(f"{on}")
    view.select_option("zanca")
    page.get_by_label("Posture").select_option("upright")
    page.get_by_label("It shows both shoulders").check()
    if said:
        page.get_by_label("The file names somebody else.").check()
    page.get_by_role("button", name="It is theirs: keep it with this film").click()
    visitor.reads("Kept: Zanca")
    return FilmImage.objects.get(film__taken_on=on)


@pytest.mark.parametrize(
    ("calibrate", "drawn", "every", "later_mm", "lost"),
    [
        (by_marker, Shoulders(rotation_deg=5, cc_injured_mm=10.6), 1, 14.8, True),
        (by_header, Shoulders(rotation_deg=-6, cc_injured_mm=10.6), 2, 12.2, False),
    ],
    ids=["PNG by its marker", "DICOM by its header, pixels not square"],
)
def test_films_sent_and_marked_by_hand_give_the_true_distances_and_the_definition_judges_them(
    arrive: Callable[..., Visitor],
    reader: str,
    operation: Procedure,
    tmp_path: Path,
    calibrate: Calibrate,
    drawn: Shoulders,
    every: int,
    later_mm: float,
    lost: bool,
) -> None:
    visitor = arrive()
    visitor.sign_in(who_signs_in("selma", "surgeon"))
    for on, injured_mm in ((FIRST, drawn.cc_injured_mm), (LATER, later_mm)):
        film = shown(replace(drawn, cc_injured_mm=injured_mm), on, every)
        file = tmp_path / (f"{on}.dcm" if calibrate is by_header else f"{on}.png")
        file.write_bytes(film.dicom if calibrate is by_header else film.png)
        image = given(visitor, operation.injury, on, file)
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


def test_fingers_magnify_the_film_set_a_mark_and_move_it(
    arrive: Callable[..., Visitor], reader: str, operation: Procedure
) -> None:
    film = shown(Shoulders(seed=3), LATER)
    image = pictured(operation.injury, LATER, film)
    visitor = arrive(360, touch=True)
    visitor.sign_in(reader)
    visitor.open(f"/films/images/{image.pk}/measure/")
    page = visitor.page
    page.locator("[data-stage]").scroll_into_view_if_needed()
    fingers = page.context.new_cdp_session(page)

    def touch(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(places)]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def seen() -> tuple[float, float]:
        x, y = page.evaluate(ON_SCREEN, list(film.points["coracoid_top_injured"]))
        return x, y

    def width() -> float:
        return float(page.locator("[data-stage]").evaluate("it => it.viewBox.baseVal.width"))

    whole, (x, y) = width(), seen()
    touch("touchStart", (x - 10, y), (x + 10, y))
    for apart in range(15, 125, 5):
        touch("touchMove", (x - apart, y), (x + apart, y))
    touch("touchEnd")
    assert width() < whole / 5
    column, row = (page.locator(f"[name=coracoid_top_injured_{axis}]") for axis in "xy")
    assert column.input_value() == ""
    x, y = seen()
    touch("touchStart", (x, y))
    touch("touchEnd")
    true = film.points["coracoid_top_injured"]
    assert float(column.input_value()) == pytest.approx(true[0], abs=1)
    assert float(row.input_value()) == pytest.approx(true[1], abs=1)
    one_pixel = page.evaluate(ON_SCREEN, [true[0] + 1, true[1]])[0] - x
    touch("touchStart", (x, y))
    for n in range(1, 6):
        touch("touchMove", (x + 4 * n * one_pixel, y))
    touch("touchEnd")
    assert float(column.input_value()) == pytest.approx(true[0] + 20, abs=1)
    assert float(row.input_value()) == pytest.approx(true[1], abs=1)


def test_a_film_is_measured_by_the_keyboard_alone_and_reopened_on_a_phone(
    arrive: Callable[..., Visitor], reader: str, operation: Procedure
) -> None:
    film = shown(Shoulders(seed=3), LATER)
    image = pictured(operation.injury, LATER, film)
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
