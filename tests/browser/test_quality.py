"""The quality meeting: did it hold, what went wrong, and the cases behind a number."""

import csv
import io
from collections.abc import Callable

import pytest
from playwright.sync_api import Download, expect

from tests.browser.visitor import Visitor

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("service")]


def text_of(download: Download) -> str:
    return download.path().read_text(encoding="utf-8")


def test_a_view_of_the_outcomes_is_chosen_linked_and_opened_to_its_cases(
    arrive: Callable[..., Visitor], width: int
) -> None:
    visitor = arrive(width)
    visitor.sign_in("quality")
    page = visitor.page
    visitor.reads("Did it hold?")
    page.get_by_label("By", exact=True).select_option("6m")
    page.get_by_label("Definition", exact=True).select_option("ratio-25")
    visitor.press("Show")
    visitor.reads("By 6 months")
    expect(page.locator(".plot .main-svg").first).to_be_visible()
    visitor.finds_no_barrier()

    link, table = page.url, page.locator("table").first.inner_text()
    assert "horizon=6m" in link
    assert "definition=ratio-25" in link
    again = arrive(width)
    again.sign_in("quality")
    again.page.goto(link)
    assert again.page.locator("table").first.inner_text() == table

    number = page.locator("tbody tr").first.locator("a").first
    count = int(number.inner_text())
    number.click()
    visitor.reads("cases")
    expect(page.locator("tbody tr")).to_have_count(count)
    visitor.finds_no_barrier()


def test_the_table_and_its_figures_are_taken_away(arrive: Callable[..., Visitor]) -> None:
    visitor = arrive()
    visitor.sign_in("quality")
    page = visitor.page
    shown = page.locator("table").first.locator("tbody th").all_inner_texts()
    with page.expect_download() as taken:
        page.get_by_role("link", name="Table as CSV").click()
    rows = list(csv.reader(io.StringIO(text_of(taken.value))))
    named = {row[0].casefold() for row in rows if row}
    assert {name.strip().casefold() for name in shown} <= named
    for name, begins in (("Picture (SVG)", "<svg"), ("Picture (PNG)", "")):
        with page.expect_download() as taken:
            page.get_by_role("button", name=name).first.click()
        content = taken.value.path().read_bytes()
        assert content.startswith(begins.encode() or b"\x89PNG")


def test_harms_are_listed_by_kind_with_their_cases(
    arrive: Callable[..., Visitor], width: int
) -> None:
    visitor = arrive(width)
    visitor.sign_in("quality")
    page = visitor.page
    page.get_by_role("link", name="Harms", exact=True).click()
    visitor.reads("What went wrong?")
    # In a table, beside its numbers: the chooser above names every kind as well.
    expect(page.locator("tbody").get_by_text("Hardware irritation").first).to_be_visible()
    visitor.reads("Operations afterwards")
    visitor.finds_no_barrier()


def test_on_paper_the_whole_table_and_the_rule_of_the_cohort_are_there(
    arrive: Callable[..., Visitor],
) -> None:
    # A sheet of A4 between the margins that browsers leave.
    visitor = arrive(718)
    visitor.sign_in("quality")
    page = visitor.page
    visitor.open("/outcomes/?by=site&from=2024-01-01")
    visitor.reads("Did it hold?")
    page.emulate_media(media="print")
    edge = page.locator("table").first.evaluate("table => table.getBoundingClientRect().right")
    assert edge <= 718
    expect(page.get_by_text("index procedures from 01 Jan 2024")).to_be_visible()
    expect(page.get_by_text("Table as CSV")).to_be_hidden()


def test_an_address_that_names_a_snapshot_fits_a_phone(arrive: Callable[..., Visitor]) -> None:
    visitor = arrive(360)
    visitor.sign_in("quality")
    visitor.page.get_by_role("link", name="Keep this address").click()
    visitor.reads("Made again from the snapshot of")
    visitor.finds_no_barrier()
