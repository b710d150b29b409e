"""Films are chosen, boxed and given to a patient in the browser."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import expect

from analytics.simulation import shoulder_films
from followup.models import FilmImage, IncomingImage
from tests import builders
from tests.browser.drawn_films import send
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BORN = date(1971, 3, 4)


def test_a_film_is_sent_boxed_and_given_to_its_patient(
    arrive: Callable[..., Visitor], width: int, tmp_path: Path
) -> None:
    coordinator = builders.person("connie", north="coordinator")
    coordinator.set_password("correct horse battery")
    coordinator.save()
    builders.injury(
        builders.patient(
            family_name="Marlowe", given_name="Agneta", birth_earliest=BORN, birth_latest=BORN
        )
    )
    sent = tmp_path / "film.dcm"
    drawn = shoulder_films.Shoulders(rows=500, columns=800, imager_spacing_mm=0.4)
    sent.write_bytes(shoulder_films.draw(drawn).dicom())
    visitor = arrive(width)
    visitor.sign_in("connie", "correct horse battery")
    page = visitor.page
    send(visitor, sent)
    page.get_by_text("Paint something over").click()
    picture = page.locator("[data-draw-boxes]")
    picture.scroll_into_view_if_needed()
    corner = picture.bounding_box()
    assert corner is not None
    page.mouse.move(corner["x"] + 10, corner["y"] + 10)
    page.mouse.down()
    page.mouse.move(corner["x"] + 60, corner["y"] + 40)
    page.mouse.up()
    boxes = page.get_by_label("Boxes to paint over")
    expect(boxes).not_to_have_value("")
    visitor.finds_no_barrier()
    page.get_by_label("I know that what is painted over").check()
    page.get_by_role("button", name="Paint over for good").click()
    expect(page.get_by_text("Painted over.")).to_be_visible()
    assert IncomingImage.objects.get().painted
    page.get_by_role("link", name="Left", exact=False).first.click()
    visitor.finds_no_barrier()
    page.get_by_role("button", name="It is theirs").click()
    expect(page.get_by_text("Kept: Zanca, 17 Jul 2026")).to_be_visible()
    assert FilmImage.objects.count() == 1
