"""A department's own list is settled page by page, by keyboard alone, at a desk and on a phone."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from registry.models import Injury
from tests import builders
from tests.browser.visitor import Visitor
from tests.followup.sent_files import list_of, theirs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
PASSWORD = "correct horse battery"


@pytest.fixture
def connie(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "files"
    builders.load_defaults()
    person = builders.person("connie", north="coordinator")
    person.set_password(PASSWORD)
    person.save()


def agree(page: Page, button: str) -> None:
    """Come to the button by keys and press it."""
    page.get_by_role("button", name=button).focus()
    page.keyboard.press("Enter")


def test_a_department_s_own_list_is_landed_by_keys(
    arrive: Callable[..., Visitor], width: int, tmp_path: Path, connie: None
) -> None:
    sheet = tmp_path / "Liste.csv"
    rows = (theirs(1), theirs(2, Seite="re"), theirs(3, **{"Unfalldatum": "31.02.2025"}))
    sheet.write_bytes(list_of(*rows, encoding="cp1252"))
    visitor = arrive(width)
    visitor.sign_in("connie", PASSWORD)
    visitor.open("/import/")
    page = visitor.page
    page.get_by_label("File of cases").set_input_files(sheet)
    agree(page, "See what would be imported")
    visitor.reads("Which column is which?")
    visitor.finds_no_barrier()
    agree(page, "These columns are right")
    visitor.reads("How are the days written?")
    visitor.finds_no_barrier()
    for question in page.locator("select[name^=order_]").all():
        question.focus()
        page.keyboard.type("day")
    agree(page, "Read them so")
    visitor.reads("What do these words mean?")
    visitor.finds_no_barrier()
    page.get_by_label("Platte").focus()
    page.keyboard.type("Locking plate")
    agree(page, "That is what they mean")
    visitor.reads("What would be imported?")
    # The one wrong row is named with its line, column and value.
    visitor.reads("31.02.2025")
    visitor.finds_no_barrier()
    agree(page, "Import the 2 good rows only")
    expect(page.locator("#main")).to_contain_text("Take this import back")
    visitor.finds_no_barrier()
    assert sorted(Injury.objects.values_list("side", flat=True)) == ["left", "right"]
