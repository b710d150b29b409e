"""A safety notice from its letter to its closing, by keyboard alone, at a desk and on a phone."""

from collections.abc import Callable

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from registry.models import NoticeCarrier
from tests import builders
from tests.browser.visitor import Visitor
from tests.implanted import PLATE, part

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PASSWORD = "correct horse battery"


@pytest.fixture
def connie() -> None:
    person = builders.person("connie", north="coordinator")
    person.set_password(PASSWORD)
    person.save()


def press(page: Page, what: Locator) -> None:
    """Come to something by keys and press it."""
    what.focus()
    page.keyboard.press("Enter")


def choose(page: Page, field: str, words: str) -> None:
    """Choose in a list by typing the beginning of the words."""
    page.locator(f"select[name={field}]").focus()
    page.keyboard.type(words)


def record(page: Page, step: str, note: str = "") -> None:
    """Record what happened to the carrier that is open."""
    choose(page, "step", step)
    page.locator("input[name=on]").fill(timezone.localdate().isoformat())
    page.get_by_label("Note").fill(note)
    press(page, page.get_by_role("button", name="Record the step"))


def test_a_notice_is_entered_worked_off_and_closed_by_keys(
    arrive: Callable[..., Visitor], width: int, connie: None
) -> None:
    part(batch="LOT42A")
    part(batch="L0T42A")
    visitor = arrive(width)
    visitor.sign_in("connie", PASSWORD)
    visitor.open(reverse("trace-notices"))
    page = visitor.page
    visitor.finds_no_barrier()
    press(page, page.get_by_role("link", name="Enter a notice").first)
    today = timezone.localdate().isoformat()
    page.get_by_label("Reference").fill("FSN-7")
    page.get_by_label("What it is about, in your own words").fill("Plates may crack")
    choose(page, "kind", "Recall")
    page.get_by_label("What it advises").fill("Tell each patient; take a film.")
    for field in ("issued_on", "received_on", "due_on"):
        page.locator(f"input[name={field}]").fill(today)
    choose(page, "owner", "connie")
    page.get_by_label("Device identifier").first.fill(PLATE)
    page.locator("input[name=line-0-batch_first]").fill("lot-42-a")
    visitor.finds_no_barrier()
    press(page, page.get_by_role("button", name="Enter and look for carriers"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("FSN-7")
    visitor.reads("1 carry it, and what became of them adds up to 1: the difference is 0.")
    expect(page.get_by_role("button", name="Close at")).to_have_count(0)
    visitor.finds_no_barrier()
    # The list is walked with the keys j and k.
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("What was done about")
    visitor.finds_no_barrier()
    record(page, "Reached")
    visitor.reads("1 carry it")
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    record(page, "Reviewed", "Film: plate intact.")
    visitor.reads("1 carry it")
    # Who only may carry it comes next in the list.
    page.keyboard.press("j")
    page.keyboard.press("j")
    page.keyboard.press("Enter")
    record(page, "It is none", "The sticker says another batch.")
    page.get_by_label("Note on closing").fill("All were seen.")
    press(page, page.get_by_role("button", name="Close at"))
    visitor.reads("closed on")
    assert sorted(NoticeCarrier.objects.values_list("state", flat=True)) == ["not_one", "reviewed"]
