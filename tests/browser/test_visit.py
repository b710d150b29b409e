"""The two-minute visit: one hand, a phone's width, few interactions; drafts, and two at one visit."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, expect

from followup.models import Complication, Film, MotionExam, Reading, Review, Score, VisitDraft
from tests.browser.conftest import PHONE
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("service")]
# What a typical visit may cost: taps, choices, and fields typed into.
MOST = 25
# Of a control that a thumb is to hit, in CSS pixels (WCAG 2.2, 2.5.5 target size).
TARGET = 44


class Counted:
    """A page used with one finger; every tap, choice and field typed into is counted."""

    def __init__(self, visitor: Visitor) -> None:
        self.page = visitor.page
        self.acts: list[str] = []

    def _field(self, name: str) -> Locator:
        self.acts.append(name)
        return self.page.locator(f"#id_{name}")

    def choose(self, name: str, value: str) -> None:
        self._field(name).select_option(value)

    def type(self, name: str, value: str) -> None:
        self._field(name).fill(value)

    def tick(self, name: str) -> None:
        self._field(name).check()

    def press(self, words: str) -> None:
        self.acts.append(words)
        self.page.get_by_role("button", name=words, exact=True).first.click()

    def tap(self, link: Locator) -> None:
        self.acts.append("link")
        link.click()


def typical(counted: Counted) -> None:
    """Record what most visits find: motion, pain, films judged, no complication, hardware, plan."""
    counted.choose("film_view", "zanca")
    counted.choose("film_calibration", "marker")
    counted.tick("film_both_sides")
    counted.type("ccd_injured_mm", "11.4")
    counted.type("ccd_other_mm", "10.2")
    counted.choose("union", "united")
    counted.choose("hardware", "intact")
    counted.type("flexion_deg", "151")
    counted.type("abduction_deg", "140")
    counted.type("external_rotation_deg", "55")
    counted.choose("internal_rotation", "t12")
    counted.type("pain_nrs", "2")
    counted.tick("asked_complications")
    counted.tick("hardware_fine")
    counted.type("next_step_note", "Full load, film at the next visit")
    counted.type("visit_note", "Back at work since two weeks.")
    counted.press("Save the visit")


def test_a_typical_visit_is_recorded_on_a_phone_in_under_25_interactions(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    visitor = arrive(PHONE)
    visitor.sign_in("surgeon")
    counted = Counted(visitor)
    injury = coming.procedure.injury
    films = Film.objects.filter(injury=injury).count()
    # From today's list to the saved visit.
    counted.tap(visitor.page.locator(f'a[href="/clinic/{coming.pk}/"]').first)
    visitor.reads("Before")
    visitor.finds_no_barrier()
    typical(counted)
    visitor.reads("Saved")
    coming.refresh_from_db()
    today = timezone.localdate()
    assert (coming.state, coming.attended_on) == ("attended", today)
    assert {"complication_screen", "hardware_check"} <= set(coming.asked)
    assert coming.visit_note == "Back at work since two weeks."
    assert Film.objects.filter(injury=injury).count() == films + 1
    assert Reading.objects.latest("id").union == "united"
    assert MotionExam.objects.latest("id").internal_rotation == "t12"
    assert Score.objects.filter(injury=injury, instrument="pain_nrs", taken_on=today).exists()
    assert not Complication.objects.filter(procedure=coming.procedure, detected_on=today).exists()
    assert not VisitDraft.objects.exists()
    # 18 as this is written; the note and the letters are composed without any more.
    assert len(counted.acts) < MOST, counted.acts


def test_the_main_controls_are_within_reach_of_a_thumb_and_large_enough(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    visitor = arrive(PHONE)
    visitor.sign_in("surgeon")
    visitor.open(f"/clinic/{coming.pk}/")
    page = visitor.page
    height = page.evaluate("window.innerHeight")
    save = page.get_by_role("button", name="Save the visit")
    # However far one has read, saving and the parts of the form stay in the lowest quarter.
    for down in (0, 2000, 100_000):
        page.evaluate(f"window.scrollTo(0, {down})")
        box = save.bounding_box()
        assert box is not None
        assert box["y"] > height * 0.75
        assert box["y"] + box["height"] <= height
    small = page.evaluate(
        """least => [...document.querySelectorAll(
              '.visit-form select, .visit-form input:not([type=hidden]):not([type=checkbox]), '
              + '.visit-form label.tick, .visit-form summary, .thumb-bar a, .thumb-bar button')]
            .filter(one => one.checkVisibility() && one.getBoundingClientRect().height < least)
            .map(one => one.id || one.textContent)""",
        TARGET,
    )
    assert small == []
    # The bar never hides the field that has the focus.
    page.locator("#id_visit_note").focus()
    field, bar = page.locator("#id_visit_note").bounding_box(), save.bounding_box()
    assert field is not None
    assert bar is not None
    assert field["y"] < bar["y"]
    for name, keyboard in (("flexion_deg", "numeric"), ("ccd_injured_mm", "decimal")):
        assert page.locator(f"#id_{name}").get_attribute("inputmode") == keyboard


def test_what_was_typed_comes_back_after_leaving_but_never_a_decision(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    visitor = arrive()
    visitor.sign_in("surgeon")
    visitor.open(f"/clinic/{coming.pk}/")
    page = visitor.page
    page.locator("#id_pain_nrs").fill("4")
    page.locator("#id_union").select_option("united")
    page.locator("#id_arrange_physiotherapy").check()
    expect(page.locator("[data-draft-said]")).to_have_text(re.compile("Kept as your draft at "))
    # What is typed last is sent on leaving.
    page.locator("#id_visit_note").fill("Sleeps well.")
    visitor.open("/clinic/")
    while not VisitDraft.objects.filter(typed__visit_note="Sleeps well.").exists():
        page.wait_for_timeout(50)
    visitor.open(f"/clinic/{coming.pk}/")
    visitor.reads("and did not save; nobody else sees it")
    assert page.locator("#id_pain_nrs").input_value() == "4"
    assert page.locator("#id_union").input_value() == "united"
    assert page.locator("#id_visit_note").input_value() == "Sleeps well."
    assert not page.locator("#id_arrange_physiotherapy").is_checked()
    visitor.finds_no_barrier()
    visitor.press("Forget it")
    expect(page.get_by_text("and did not save")).to_have_count(0)
    assert page.locator("#id_pain_nrs").input_value() == ""


def test_two_at_one_visit_are_told_within_twenty_seconds(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    first, second = arrive(), arrive()
    first.sign_in("surgeon")
    first.open(f"/clinic/{coming.pk}/")
    second.sign_in(another(coming))
    second.open(f"/clinic/{coming.pk}/")
    told = re.compile("has this visit open too")
    expect(second.page.get_by_text(told)).to_be_visible(timeout=20_000)
    expect(first.page.get_by_text(told)).to_be_visible(timeout=20_000)
    first.finds_no_barrier()


def another(review: Review) -> str:
    """Return the username of another surgeon of a visit's site; all have the demo's password."""
    holders: Any = review.site.memberships.filter(role="surgeon", ends_on__isnull=True)
    return str(holders.exclude(person__username="surgeon").first().person.username)


def test_a_letter_is_composed_edited_and_kept_as_sent(
    arrive: Callable[..., Visitor], coming: Review
) -> None:
    visitor = arrive(PHONE)
    visitor.sign_in("surgeon")
    visitor.open(f"/clinic/{coming.pk}/")
    typical(Counted(visitor))
    visitor.reads("Saved")
    visitor.open(f"/clinic/{coming.pk}/letters/")
    page = visitor.page
    visitor.finds_no_barrier()
    page.get_by_role("link", name="Compose it").nth(1).click()
    body = page.get_by_label("Words")
    expect(body).to_have_value(re.compile("Dear colleague"))
    expect(body).to_have_value(re.compile("bone: united"))
    page.get_by_label("To: name and address").fill("Dr Invented\n1 Old Square")
    body.fill(f"{body.input_value()}\n\nWith thanks.")
    visitor.finds_no_barrier()
    visitor.press("Keep the draft")
    visitor.reads("Kept as a draft")
    page.get_by_role("link", name="Letter to the referring doctor").click()
    visitor.finds_no_barrier()
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_label("How it goes out").select_option("post")
    visitor.press("Mark as sent")
    visitor.reads("is kept as sent")
    visitor.reads("With thanks.")
    answer = page.request.get(f"{page.url}pages.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF-")
