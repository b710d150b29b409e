"""A patient answers on a phone, with scripts and without, by keyboard, in their own language."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.utils import timezone
from playwright.sync_api import Browser, expect

from followup.models import Answer, Invitation, QuestionnaireSetup, Review, Task, UrgentAdvice
from followup.services import invitations
from registry.models import Person
from tests import builders
from tests.browser.visitor import Visitor

pytestmark = pytest.mark.browser
PHONE = 390
ADVICE = "Ring us at once: 0555 010 2000."


@pytest.fixture
def link(live_server: Any) -> str:
    """Return the path of a link to a questionnaire that is open today."""
    cache.clear()
    builders.load_defaults()
    today = timezone.localdate()
    site = builders.site()
    site.telephone = "0555 010 2000"
    site.save(update_fields=["telephone"])
    QuestionnaireSetup.objects.create(site=site, invites=True)
    for language, text in (("en", ADVICE), ("de", "Rufen Sie sofort an.")):
        UrgentAdvice.objects.create(
            site=site, language=language, number=1, text=text, made_at=timezone.now()
        )
    review: Review = builders.procedure().reviews.get(step__code="6m")
    Review.objects.filter(pk=review.pk).update(
        opens_on=today, due_on=today, proposed_on=today, closes_on=today
    )
    by = Person.objects.get(pk=review.recorded_by_id)
    _, address = invitations.hand_over(review=review, by=by, now=timezone.now())
    return "/q/" + address.rsplit("/q/", 1)[1]


@pytest.fixture(params=[True, False], ids=["with scripts", "without scripts"])
def patient(
    request: pytest.FixtureRequest, chromium: Browser, live_server: Any
) -> Iterator[Visitor]:
    """Give a patient with a phone; at the end the browser had nothing to complain of."""
    context = chromium.new_context(
        viewport={"width": PHONE, "height": 844},
        is_mobile=True,
        has_touch=True,
        java_script_enabled=request.param,
        locale="en-GB",
    )
    visitor = Visitor(context.new_page(), live_server.url)
    yield visitor
    context.close()
    assert not visitor.complaints, "\n".join(visitor.complaints)


def test_a_patient_answers_on_a_phone_from_the_link_to_the_thanks(
    patient: Visitor, link: str
) -> None:
    page = patient.page
    patient.open(link)
    expect(page).to_have_url(f"{patient.base}/q/")
    patient.reads("How are you and your shoulder?")
    page.get_by_label("I am the patient").check()
    patient.press("Begin")
    patient.reads("Page 1 of 7")
    page.get_by_label("No", exact=True).check()
    patient.press("Save and go on")
    page.get_by_label("9", exact=True).check()
    patient.press("Save and go on")
    patient.reads(ADVICE)
    patient.reads("Nobody is watching your answers at this moment")
    assert Task.objects.get().kind == "alarming_answer"
    page.get_by_label("in one number").fill("200")
    patient.press("Save and go on")
    patient.reads("Please write a whole number within the range.")
    page.get_by_label("in one number").fill("70")
    patient.press("Save and go on")
    # Put away, and taken up again by the same link.
    patient.open(link)
    patient.reads("How content are you")
    page.get_by_label("Rather content").check()
    for _ in range(4):
        patient.press("Save and go on")
    patient.reads("They are saved.")
    patient.reads("not answered")
    patient.press("Send my answers")
    patient.reads("Thank you")
    patient.reads(ADVICE)
    assert dict(Answer.objects.values_list("question", "value")) == {
        "who": "self",
        "shape": "no",
        "pain": "9",
        "function": "70",
        "satisfaction": "rather",
    }
    assert Invitation.objects.get().completed_at is not None


def test_the_language_is_switched_on_the_page(patient: Visitor, link: str) -> None:
    patient.open(link)
    patient.press("Deutsch")
    patient.reads("Wie geht es Ihnen und Ihrer Schulter?")
    assert patient.page.locator("html").get_attribute("lang") == "de"
    patient.press("Anfangen")
    patient.reads("Seite 1 von 7")


def test_no_page_of_a_questionnaire_has_a_barrier_at_any_width(
    arrive: Callable[..., Visitor], link: str, width: int
) -> None:
    visitor = arrive(width)
    visitor.open(link)
    barriers = visitor.barriers()
    codes = ("shape", "pain", "function", "satisfaction", "work", "sport", "hardware", "check")
    for code in codes:
        visitor.open(f"/q/?page={code}")
        barriers += visitor.barriers()
        for box in visitor.page.locator(".answers label, .onward button").all():
            size = box.bounding_box()
            assert size is not None
            assert min(size["height"], size["width"]) >= 44, code
    visitor.page.keyboard.press("Tab")
    visitor.open("/q/?page=pain")
    visitor.page.get_by_label("9", exact=True).focus()
    visitor.page.keyboard.press("Space")
    visitor.press("Save and go on")
    visitor.reads(ADVICE)
    barriers += visitor.barriers()
    visitor.page.context.clear_cookies()
    visitor.open("/q/")
    visitor.reads("This page cannot be opened")
    barriers += visitor.barriers()
    assert not barriers, "\n".join(barriers)
