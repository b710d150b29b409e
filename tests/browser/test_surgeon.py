"""The surgeon's clinic: today's list, one page for a visit, and what happens to hardware."""

from collections.abc import Callable

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from followup.models import Film, HardwareDecision, Review
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("service")]


def fill_visit(page: Page) -> None:
    page.get_by_label("View").select_option("zanca")
    page.get_by_label("Calibrated by").select_option("marker")
    page.get_by_label("Shows both shoulders").check()
    page.get_by_label("CC distance, injured side, mm").fill("11.4")
    page.get_by_label("CC distance, other side, mm").fill("10.2")
    page.get_by_label("Union", exact=True).select_option("united")
    page.get_by_label("Hardware on the film").select_option("intact")
    page.get_by_label("Flexion, degrees", exact=True).first.fill("151")
    page.get_by_label("Abduction, degrees", exact=True).first.fill("140")
    page.get_by_label("Pain, 0 to 10", exact=True).fill("2")


def test_a_visit_is_recorded_from_the_list_and_seen_on_the_patients_line(
    arrive: Callable[..., Visitor], coming: Review, width: int
) -> None:
    visitor = arrive(width)
    visitor.sign_in("surgeon")
    page = visitor.page
    visitor.reads("Who am I seeing?")
    visitor.finds_no_barrier()
    page.locator("tbody th a, tbody td a").first.click()
    visitor.reads("Before")
    visitor.finds_no_barrier()
    # What was found last time is a hint, and nothing of it is filled in.
    assert page.get_by_label("Pain, 0 to 10", exact=True).input_value() == ""
    films = Film.objects.filter(injury=coming.procedure.injury).count()
    fill_visit(page)
    page.get_by_label("Hardware complaint").fill("Screw head felt under the skin")
    visitor.press("Save the visit")
    visitor.reads("Saved")
    coming.refresh_from_db()
    assert (coming.state, coming.attended_on) == ("attended", timezone.localdate())
    assert Film.objects.filter(injury=coming.procedure.injury).count() == films + 1
    visitor.open(f"/patients/{coming.procedure.injury.patient.key}/")
    visitor.reads("CC distance 11.4 mm")
    visitor.finds_no_barrier()


def test_what_cannot_be_is_refused_by_its_field_and_nothing_typed_is_lost(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    visitor = arrive()
    visitor.sign_in("surgeon")
    visitor.open(f"/clinic/{coming.pk}/")
    page = visitor.page
    films = Film.objects.count()
    fill_visit(page)
    page.locator("#id_visited_on").fill("2019-01-01")
    page.get_by_label("What next").last.fill("Come back with a film")
    visitor.press("Save the visit")
    expect(page.locator(".wrong .error").first).to_be_visible()
    assert page.get_by_label("CC distance, injured side, mm").input_value() == "11.4"
    assert page.get_by_label("What next").last.input_value() == "Come back with a film"
    assert Film.objects.count() == films
    visitor.finds_no_barrier()


def test_of_two_who_save_one_visit_the_second_is_told_and_keeps_what_was_typed(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    first, second = arrive(), arrive()
    for visitor in (first, second):
        visitor.sign_in("surgeon")
        visitor.open(f"/clinic/{coming.pk}/")
        fill_visit(visitor.page)
    first.press("Save the visit")
    first.reads("Saved")
    films = Film.objects.count()
    second.page.get_by_label("Pain, 0 to 10", exact=True).fill("7")
    second.press("Save the visit")
    expect(second.page.locator(".conflict")).to_be_visible()
    assert second.page.get_by_label("Pain, 0 to 10", exact=True).input_value() == "7"
    assert Film.objects.count() == films
    second.finds_no_barrier()


def test_a_removal_is_decided_with_its_reason(arrive: Callable[..., Visitor], width: int) -> None:
    visitor = arrive(width)
    visitor.sign_in("surgeon")
    page = visitor.page
    page.get_by_role("link", name="Hardware", exact=True).click()
    visitor.reads("Whose hardware needs a decision?")
    visitor.finds_no_barrier()
    page.get_by_role("link", name="Decide").first.click()
    page.get_by_role("combobox", name="Decision").select_option("declined")
    visitor.press("Record the decision")
    expect(page.locator(".wrong .error").first).to_be_visible()
    visitor.finds_no_barrier()
    page.get_by_label("Why").fill("Sleeps on it without trouble")
    visitor.press("Record the decision")
    visitor.reads("Whose hardware needs a decision?")
    decided = HardwareDecision.objects.get(reason="Sleeps on it without trouble")
    assert decided.state == "declined"
