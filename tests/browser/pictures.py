"""Takes the README's pictures from the invented service: `make pictures`.

Serves a fresh demo in a temporary folder, drives a browser through the journeys, and writes
into fixtures/pictures.
"""

import re
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from config import env
from tests import servers
from tests.browser.visitor import Visitor

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "fixtures" / "pictures"
DESK, PHONE = (1280, 800), (390, 844)


@contextmanager
def demo() -> Iterator[str]:
    """Serve the demo; give its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory(prefix="holdfast-pictures-") as folder:
        serving = subprocess.Popen(
            [sys.executable, "manage.py", "serve", f"--port={port}"],
            cwd=ROOT,
            env=env.with_settings(HOLDFAST_DATA_DIR=folder),
            stdout=subprocess.PIPE,
            text=True,
        )
        try:
            assert serving.stdout is not None
            for line in serving.stdout:
                if "Ctrl-C" in line:
                    break
            yield f"http://127.0.0.1:{port}"
        finally:
            serving.send_signal(signal.SIGINT)
            serving.wait(timeout=60)


def visit(browser: Browser, base: str, who: str, size: tuple[int, int]) -> Page:
    """Sign somebody in with a window of a size."""
    width, height = size
    context = browser.new_context(viewport={"width": width, "height": height}, locale="en-GB")
    visitor = Visitor(context.new_page(), base)
    visitor.sign_in(who)
    return visitor.page


def take(page: Page, name: str) -> None:
    """Write what the window shows."""
    page.wait_for_load_state("networkidle")
    page.screenshot(path=PICTURES / f"{name}.png")
    print(PICTURES / f"{name}.png")


def coordinator(browser: Browser, base: str) -> None:
    """Take the morning list, with a slot being chosen."""
    page = visit(browser, base, "coordinator", DESK)
    page.get_by_role("link", name=re.compile("^Book: ")).first.click()
    page.get_by_label("Slot").wait_for()
    page.evaluate("scrollTo(0, 0)")
    take(page, "due")


def load(browser: Browser, base: str) -> None:
    """Take what the next weeks of one clinic hold."""
    page = visit(browser, base, "coordinator", DESK)
    page.get_by_role("link", name="clinics' load").click()
    page.get_by_role("heading", name=re.compile("week by week")).evaluate(
        "heading => heading.scrollIntoView()"
    )
    take(page, "load")


def questionnaire(browser: Browser, base: str) -> None:
    """Take what a patient sees at home, on a phone and without a sign-in."""
    page = visit(browser, base, "coordinator", DESK)
    patients = page.locator("[data-walk-link]")
    addresses = [link.get_attribute("href") for link in patients.all()]
    issue = page.get_by_role("button", name=re.compile("^Issue a link"))
    for address in addresses:
        page.goto(f"{base}{address}")
        if issue.count():
            break
    issue.first.click()
    link = page.locator(".secret a").get_attribute("href")
    assert link is not None
    width, height = PHONE
    phone = browser.new_context(viewport={"width": width, "height": height}, locale="en-GB")
    page = phone.new_page()
    page.goto(link)
    page.get_by_label("I am the patient").check()
    page.get_by_role("button", name="Begin").click()
    while not page.get_by_role("group", name=re.compile("[Pp]ain")).count():
        page.get_by_role("button", name="Save and go on").click()
    take(page, "questionnaire-phone")


def surgeon(browser: Browser, base: str) -> None:
    """Take one visit on a desk and on a phone, and a patient's course."""
    for size, name in ((DESK, "visit"), (PHONE, "visit-phone")):
        page = visit(browser, base, "surgeon", size)
        page.locator("tbody th a, tbody td a").first.click()
        page.get_by_role("heading", name="Today").wait_for()
        if size is PHONE:
            page.get_by_role("link", name="Record today").click()
        take(page, name)
    page = visit(browser, base, "surgeon", DESK)
    page.get_by_role("link", name="Hardware", exact=True).click()
    take(page, "hardware")
    page.locator("tbody th a").first.click()
    take(page, "patient")


def quality(browser: Browser, base: str) -> None:
    """Take the table and the figures of the outcomes."""
    page = visit(browser, base, "quality", DESK)
    page.locator(".plot .main-svg").first.wait_for()
    take(page, "outcomes")
    page.locator("[data-figure]").first.scroll_into_view_if_needed()
    page.mouse.wheel(0, 500)
    take(page, "outcomes-figures")


def main() -> None:
    """Take all pictures."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with demo() as base, sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=servers.browser(),
            args=["--no-sandbox", "--disable-gpu", "--lang=en-GB"],
        )
        for journey in (coordinator, load, questionnaire, surgeon, quality):
            journey(browser, base)
        browser.close()


if __name__ == "__main__":
    main()
