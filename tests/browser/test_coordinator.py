"""The coordinator's morning: who is due, and a new patient."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from followup.models import ContactAttempt, Review
from registry.models import Procedure
from registry.models.identities import Identity
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("service")]


def test_a_row_of_the_due_list_is_booked_called_and_ended(
    arrive: Callable[..., Visitor], width: int
) -> None:
    visitor = arrive(width)
    visitor.sign_in("coordinator")
    page = visitor.page
    visitor.reads("Who is due?")
    visitor.finds_no_barrier()

    page.get_by_label("Show", exact=True).select_option(label="Not booked")
    visitor.reads("most urgent first")
    row = page.locator("tbody tr").first
    whom = row.locator("th a").inner_text()
    booked_before = Review.objects.filter(state="booked").count()
    row.get_by_role("link", name="Book").click()
    page.get_by_label("Slot").select_option(index=1)
    visitor.finds_no_barrier()
    row.get_by_role("button", name="Book").click()
    visitor.reads(f"Booked: {whom}")
    assert Review.objects.filter(state="booked").count() == booked_before + 1

    tried_before = ContactAttempt.objects.count()
    row = page.locator("tbody tr").first
    row.get_by_role("link", name="Call").click()
    page.get_by_label("What came of it").select_option("no_answer")
    row.get_by_role("button", name="Note it").click()
    visitor.reads("Noted for")
    assert ContactAttempt.objects.count() == tried_before + 1

    row = page.locator("tbody tr").first
    row.get_by_role("link", name="Not needed").click()
    why = page.get_by_label("Why this review is not needed")
    expect(why).to_be_visible()
    why.evaluate("field => field.removeAttribute('required')")
    row.get_by_role("button", name="Mark as not needed").click()
    expect(row.locator(".error").first).to_be_visible()
    why.fill("Followed up abroad")
    row.get_by_role("button", name="Mark as not needed").click()
    visitor.reads("is marked as not needed")
    assert Review.objects.filter(ended_reason="Followed up abroad").count() == 1


def test_the_due_list_is_walked_by_keyboard_to_the_patient(
    arrive: Callable[..., Visitor],
) -> None:
    visitor = arrive()
    visitor.sign_in("coordinator")
    page = visitor.page
    second = page.locator("[data-walk-link]").nth(1).inner_text()
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text(second)
    visitor.finds_no_barrier()


def test_a_patient_is_enrolled_step_by_step_to_the_planned_reviews(
    arrive: Callable[..., Visitor], width: int
) -> None:
    visitor = arrive(width)
    visitor.sign_in("coordinator")
    page = visitor.page
    day = timezone.localdate() - timedelta(days=12)
    known = Identity.objects.order_by("id").first()
    assert known is not None

    page.get_by_role("link", name="Enrol").click()
    page.get_by_label("Family name").fill(known.family_name)
    page.get_by_label("Given name").fill(known.given_name)
    page.get_by_label("Birth date").fill(known.birth_earliest.isoformat())
    page.get_by_label("Sex").select_option(known.sex)
    visitor.finds_no_barrier()
    visitor.press("Save and go on to the injury")
    visitor.reads("Is this patient here already?")
    expect(page.get_by_label("Family name")).to_have_value(known.family_name)
    page.get_by_label("Family name").fill("Aubrietia")
    page.get_by_label("Given name").fill("Wilmot")
    visitor.press("Save and go on to the injury")

    visitor.reads("Injury of Aubrietia, Wilmot")
    page.locator("#id_kind").select_option("lateral_clavicle")
    page.get_by_label("Left", exact=True).check()
    page.get_by_label("Date of the injury").fill(day.isoformat())
    page.get_by_label("Neer").select_option("IIB")
    visitor.finds_no_barrier()
    visitor.press("Save and go on to the operation")

    visitor.reads("Operation of Aubrietia, Wilmot")
    page.get_by_label("Date of the operation").fill((day - timedelta(days=3)).isoformat())
    visitor.press("Save and go on")
    expect(page.locator(".error").first).to_contain_text("before the injury")
    page.get_by_label("Date of the operation").fill((day + timedelta(days=3)).isoformat())
    visitor.finds_no_barrier()
    visitor.press("Save and go on")

    visitor.reads("What was implanted")
    page.get_by_label("Construct type").select_option(
        label="Locking plate with one coracoid anchor"
    )
    page.get_by_label("Lateral screws", exact=True).first.fill("5")
    diameter = page.get_by_label("Lateral screw diameter, mm").first
    diameter.fill("2.3")
    page.get_by_label("Lateral screws locking").select_option("yes")
    departs = page.locator(".checks li").filter(has_text="At least six screws")
    expect(departs).to_contain_text("departs")
    visitor.finds_no_barrier()
    visitor.press("Save and show the planned reviews")
    visitor.reads("why does it depart?")
    visitor.press("Save and show the planned reviews")

    visitor.reads("6 weeks")
    visitor.finds_no_barrier()
    saved = Procedure.objects.get(injury__patient__identity__family_name="Aubrietia")
    assert saved.construct.departures.count() >= 1
    assert saved.reviews.count() == 7
