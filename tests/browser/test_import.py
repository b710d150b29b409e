"""Files of cases in the browser: seen first, then imported; nonsense is refused in words."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect

from registry.models import Procedure
from tests import builders
from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("service")]
FIXTURES = Path(__file__).parents[2] / "fixtures"


def operations() -> int:
    return Procedure.objects.filter(kind="fixation").count()


def test_the_good_rows_of_a_sheet_are_imported_and_each_slip_is_named(
    arrive: Callable[..., Visitor], width: int, tmp_path: Path
) -> None:
    header, *rows = (FIXTURES / "cases_merrow.csv").read_text().splitlines()
    # The first mistyped row with two good ones before it.
    sheet = tmp_path / "cases.csv"
    sheet.write_text("\n".join([header, rows[0], rows[1], rows[6]]))
    # Their hospital is one that has none of the service's own patients.
    builders.person("coordinator", newtown="coordinator")
    visitor = arrive(width)
    visitor.sign_in("coordinator")
    page = visitor.page
    page.get_by_role("link", name="Import", exact=True).click()
    visitor.finds_no_barrier()
    page.get_by_label("Site").select_option(label="Newtown Hospital")
    page.get_by_label("File of cases").set_input_files(sheet)
    before = operations()
    visitor.press("See what would be imported")
    visitor.reads("procedure_date")
    visitor.finds_no_barrier()
    assert operations() == before
    page.get_by_role("button", name="Import the 2 good rows only").click()
    expect(page.locator("#main")).to_contain_text("Take this import back")
    visitor.finds_no_barrier()
    assert operations() == before + 2


def test_nonsense_is_refused_in_words_and_nothing_is_kept(
    arrive: Callable[..., Visitor], tmp_path: Path
) -> None:
    sheet = tmp_path / "nonsense.csv"
    sheet.write_bytes(b"\x00\xff\x13nonsense;" * 1000)
    visitor = arrive()
    visitor.sign_in("coordinator")
    visitor.open("/import/")
    before = operations()
    visitor.page.get_by_label("File of cases").set_input_files(sheet)
    visitor.press("See what would be imported")
    expect(visitor.page.locator("#main")).to_contain_text("binary data")
    assert operations() == before


def test_without_the_right_a_page_says_so_and_whom_to_ask(arrive: Callable[..., Visitor]) -> None:
    visitor = arrive()
    visitor.sign_in("quality")
    visitor.open("/import/")
    visitor.reads("Ask your administrator")
    visitor.finds_no_barrier()
