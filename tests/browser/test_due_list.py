"""The Due list by keyboard alone, and several rows at once."""

import io
from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect
from pypdf import PdfReader

from followup.models import Appointment, Clinic, ClosedDay, ContactAttempt, Review
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("service")]


def test_the_list_is_worked_by_keyboard_alone(arrive: Callable[..., Visitor]) -> None:
    visitor = arrive()
    visitor.sign_in("coordinator")
    page = visitor.page
    visitor.open("/due/?show=unbooked")
    rows = page.locator("table.due tbody tr")
    names = page.locator("[data-walk-link]")
    page.keyboard.press("?")
    expect(page.get_by_text("tick the row, or take the tick away")).to_be_visible()
    page.keyboard.press("?")
    page.locator("h1").click()

    page.keyboard.press("j")
    page.keyboard.press("j")
    expect(names.nth(1)).to_be_focused()
    page.keyboard.press("x")
    expect(rows.nth(1).locator("[data-tick]")).to_be_checked()
    expect(page.get_by_text("With the 1 ticked:")).to_be_visible()
    page.keyboard.press("x")
    expect(rows.nth(1).locator("[data-tick]")).not_to_be_checked()

    page.keyboard.press("n")
    expect(rows.nth(1).get_by_label("Why this review is not needed")).to_be_focused()
    page.keyboard.press("Escape")
    expect(names.nth(1)).to_be_focused()
    expect(page.get_by_label("Why this review is not needed")).to_have_count(0)

    second = rows.nth(1).get_attribute("id")
    tries = ContactAttempt.objects.count()
    page.keyboard.press("c")
    expect(rows.nth(1).get_by_label("How")).to_be_focused()
    rows.nth(1).get_by_label("What came of it").select_option("no_answer")
    rows.nth(1).get_by_label("Note").press("Enter")
    visitor.reads("Noted for")
    assert ContactAttempt.objects.count() == tries + 1
    expect(page.locator(f"#{second} [data-walk-link]")).to_be_focused()

    booked = Review.objects.filter(state="booked").count()
    page.keyboard.press("b")
    expect(page.locator(f"#{second}").get_by_label("Slot")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    visitor.reads("Booked:")
    assert Review.objects.filter(state="booked").count() == booked + 1
    # The row has left the view of those who are not booked: the one in its place has the focus.
    expect(names.nth(1)).to_be_focused()
    visitor.finds_no_barrier()


def clinic_and_day() -> tuple[Clinic, date]:
    """Return a clinic and its next open day that lies in the window of somebody who is not booked."""
    today = timezone.localdate()
    for day in (today + timedelta(days=offset) for offset in range(1, 29)):
        for clinic in Clinic.objects.filter(weekday=day.weekday(), is_active=True):
            fits = Review.objects.filter(
                site=clinic.site,
                state="planned",
                opens_on__lte=today,
                closes_on__gte=day,
                procedure__injury__patient__status="active",
            )
            taken = Appointment.objects.filter(clinic=clinic, on=day, state="booked").count()
            closed = ClosedDay.objects.filter(site=clinic.site, on=day)
            if fits.exists() and taken < clinic.slots and not closed.exists():
                return clinic, day
    raise AssertionError("nobody of the invented service can be booked")


def test_a_clinic_list_is_booked_from_ticked_rows(
    arrive: Callable[..., Visitor], width: int
) -> None:
    visitor = arrive(width)
    visitor.sign_in("coordinator")
    page = visitor.page
    clinic, day = clinic_and_day()
    visitor.open("/due/?show=unbooked")
    page.locator("[data-tick-all]").check()
    expect(page.locator("[data-tick]").first).to_be_checked()
    visitor.press("Book a clinic list")
    page.locator("select[name=clinic]").select_option(str(clinic.pk))
    page.locator("input[name=day]").fill(day.isoformat())
    visitor.press("Show what would happen")
    visitor.reads("Nothing is done yet.")
    visitor.finds_no_barrier()
    booked = Appointment.objects.filter(clinic=clinic, on=day, state="booked").count()
    page.locator("button[name=confirm]").click()
    visitor.reads("Back to the list")
    visitor.finds_no_barrier()
    assert Appointment.objects.filter(clinic=clinic, on=day, state="booked").count() > booked


def test_the_clinic_list_is_printed_without_a_blank_sheet(arrive: Callable[..., Visitor]) -> None:
    visitor = arrive()
    visitor.sign_in("coordinator")
    visitor.open("/clinic/list/")
    visitor.reads("Printed")
    sheets = [page.extract_text() for page in PdfReader(io.BytesIO(visitor.page.pdf())).pages]
    papers = visitor.page.locator(".paper").count()
    assert papers
    assert len(sheets) == papers
    assert all("Printed" in sheet for sheet in sheets)
