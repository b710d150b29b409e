"""Labels by a scanner's keys, on a photo, and by a camera, in a real browser."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from registry.models import Part, Procedure
from registry.services import enrolment
from tests import builders, servers
from tests.browser.conftest import ARGUMENTS, DESK
from tests.browser.drawn_labels import film, picture, symbol
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
GS = "\x1d"
PLATE = "(01)09506000134352(17)270131(10)LOT42A(21)SN0042"
SCREW = "(01)09506000134369(17)280200(10)S7"
SCANNED = f"01095060001343521727013110LOT42A{GS}21SN0042"
SCANNED_SCREW = "01095060001343691728020010S7"
PASSWORD = "correct horse battery"


@pytest.fixture
def operation() -> Procedure:
    surgeon = builders.person("selma", north="surgeon")
    surgeon.set_password(PASSWORD)
    surgeon.save()
    return builders.procedure()


def at_the_list(visitor: Visitor, operation: Procedure) -> Page:
    visitor.sign_in("selma", PASSWORD)
    visitor.open(reverse("part-scan", args=[operation.pk]))
    return visitor.page


def raws() -> list[str]:
    return list(Part.objects.order_by("pk").values_list("raw_identifier", flat=True))


def save(page: Page) -> None:
    page.get_by_role("button", name="Save these parts").click()
    expect(page.get_by_text("added.")).to_be_visible()


def test_a_scanner_that_types_keeps_its_separators(
    arrive: Callable[..., Visitor], width: int, operation: Procedure
) -> None:
    visitor = arrive(width)
    page = at_the_list(visitor, operation)
    before, after = SCANNED.split(GS)
    # As keys: the separator as Ctrl and ]; the next label comes before the first one is answered.
    page.keyboard.type(before)
    page.keyboard.press("Control+BracketRight")
    page.keyboard.type(after)
    page.keyboard.press("Enter")
    page.keyboard.type(SCANNED_SCREW)
    page.keyboard.press("Enter")
    expect(page.locator(".scanned > li")).to_have_count(2)
    expect(page.get_by_text("SN0042")).to_be_visible()
    visitor.finds_no_barrier()
    # As text that is put in at once, as by Alt and numbers or from the clipboard.
    page.get_by_label("Scan a label").focus()
    page.keyboard.insert_text(SCANNED.replace("SN0042", "SN0043"))
    page.keyboard.press("Enter")
    expect(page.locator(".scanned > li")).to_have_count(3)
    page.locator(".scanned > li").nth(1).get_by_label("How many").fill("4")
    save(page)
    assert raws() == [SCANNED, SCANNED_SCREW, SCANNED.replace("SN0042", "SN0043")]
    assert [part.quantity for part in Part.objects.order_by("pk")] == [1, 4, 1]


def test_a_lost_separator_is_asked_about_in_the_list(
    arrive: Callable[..., Visitor], operation: Procedure
) -> None:
    visitor = arrive()
    page = at_the_list(visitor, operation)
    page.keyboard.type(SCANNED.replace(GS, ""))
    page.keyboard.press("Enter")
    expect(page.get_by_text("run together").first).to_be_visible()
    visitor.finds_no_barrier()
    page.get_by_role("button", name="Save these parts").click()
    expect(page.locator("input:invalid").first).to_be_focused()
    assert not Part.objects.exists()
    page.get_by_label("batch LOT42A, serial number SN0042").check()
    save(page)
    part = Part.objects.get()
    assert (part.batch, part.serial) == ("LOT42A", "SN0042")


def test_a_photo_of_two_symbols_is_read(
    arrive: Callable[..., Visitor], width: int, operation: Procedure, tmp_path: Path
) -> None:
    photo = tmp_path / "labels.png"
    picture(symbol(PLATE, "data_matrix"), symbol(SCREW, "code_128", scale=2)).save(photo)
    page = at_the_list(arrive(width), operation)
    page.locator("[data-photo]").set_input_files(photo)
    expect(page.locator(".scanned > li")).to_have_count(2)
    save(page)
    # With what says that these are GS1 symbols, and the separator itself.
    assert set(raws()) == {f"]d2{SCANNED}", f"]C1{SCANNED_SCREW}"}


def test_a_file_that_is_no_picture_is_told_of(
    arrive: Callable[..., Visitor], operation: Procedure, tmp_path: Path
) -> None:
    page = at_the_list(arrive(), operation)
    for name, content, words in (
        ("words.txt", b"no picture", "no picture that the browser can open"),
        ("empty.png", None, "No label could be read"),
    ):
        file = tmp_path / name
        if content is None:
            picture().save(file)
        else:
            file.write_bytes(content)
        page.locator("[data-photo]").set_input_files(file)
        expect(page.get_by_text(words)).to_be_visible()


def test_a_reader_that_cannot_be_loaded_is_told_of(
    arrive: Callable[..., Visitor], operation: Procedure, tmp_path: Path
) -> None:
    visitor = arrive()
    page = at_the_list(visitor, operation)
    page.route("**/zxing_reader.wasm", lambda route: route.abort())
    file = tmp_path / "labels.png"
    picture(symbol(PLATE, "data_matrix")).save(file)
    page.locator("[data-photo]").set_input_files(file)
    expect(page.get_by_text("The reader of labels could not be loaded")).to_be_visible()
    # What the browser says of the refused file is asked for here.
    visitor.complaints.clear()


@pytest.mark.parametrize(
    ("kind", "text", "raw"),
    [("data_matrix", PLATE, f"]d2{SCANNED}"), ("code_128", SCREW, f"]C1{SCANNED_SCREW}")],
)
def test_a_camera_reads_a_label_once(
    chromium: Browser,
    live_server: Any,
    operation: Procedure,
    tmp_path: Path,
    kind: str,
    text: str,
    raw: str,
) -> None:
    shot = film(tmp_path / "camera.y4m", picture(symbol(text, kind, scale=3)))
    flags = (
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-video-capture={shot}",
    )
    browser = chromium.browser_type.launch(
        executable_path=servers.browser(), args=[*ARGUMENTS, *flags]
    )
    visitor = Visitor(browser.new_page(viewport={"width": DESK, "height": 900}), live_server.url)
    page = at_the_list(visitor, operation)
    page.get_by_role("button", name="Use the camera").click()
    expect(page.locator(".scanned > li")).to_have_count(1)
    # Held on, it is the same label still.
    page.wait_for_timeout(1500)
    expect(page.locator(".scanned > li")).to_have_count(1)
    page.get_by_role("button", name="Stop the camera").click()
    expect(page.locator("[data-camera-picture]")).to_be_hidden()
    save(page)
    browser.close()
    assert raws() == [raw]
    assert visitor.complaints == []


def test_parts_are_scanned_while_enrolling(
    arrive: Callable[..., Visitor], operation: Procedure
) -> None:
    hurt = operation.injury.patient
    bare = enrolment.record_procedure(
        injury=builders.injury(hurt),
        values={"kind": "fixation", "performed_on": operation.performed_on},
        by=operation.recorded_by,
        now=builders.NOW,
        today=builders.TODAY,
    )
    visitor = arrive()
    visitor.sign_in("selma", PASSWORD)
    visitor.open(reverse("enrol-construct", args=[bare.pk]))
    page = visitor.page
    page.get_by_label("Construct type").select_option(index=1)
    page.get_by_label("Anchors in the coracoid", exact=True).fill("2")
    page.get_by_label("Scan a label").focus()
    page.keyboard.insert_text(SCANNED)
    page.keyboard.press("Enter")
    page.locator("#scanned").get_by_label("Part").select_option("anchor")
    expect(page.get_by_text("2 anchors typed, 1 among the parts")).to_be_visible()
    visitor.finds_no_barrier()
    page.get_by_role("button", name="Save and show the planned reviews").click()
    page.wait_for_url(f"**{reverse('enrol-plan', args=[bare.pk])}")
    part = Part.objects.get(construct__procedure=bare)
    assert (part.raw_identifier, part.implant_model.kind) == (SCANNED, "anchor")
