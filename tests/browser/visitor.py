"""Somebody at a browser: signs in, reads, fills in, and says what they cannot use."""

from pathlib import Path
from typing import Any

from playwright.sync_api import ConsoleMessage, Page, expect

from analytics.simulation.setting import PASSWORD

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text()
BAD = ("serious", "critical")
# Refused on purpose in a test, so that the browser's own line about it is no complaint.
REFUSALS = ("status of 403", "status of 404", "status of 409", "status of 400", "Error Code 4")


class Visitor:
    """One person with one browser. `complaints` is what their console said went wrong."""

    def __init__(self, page: Page, base: str) -> None:
        self.page = page
        self.base = base
        self.complaints: list[str] = []
        page.set_default_timeout(30_000)
        page.on("console", self._listen)
        page.on("pageerror", lambda fault: self.complaints.append(f"{page.url}: {fault}"))

    def _listen(self, message: ConsoleMessage) -> None:
        if message.type == "error" and not any(word in message.text for word in REFUSALS):
            self.complaints.append(f"{self.page.url}: {message.text}")

    def open(self, path: str) -> None:
        """Open a page of the service."""
        self.page.goto(f"{self.base}{path}")

    def sign_in(self, username: str, password: str = PASSWORD) -> None:
        """Sign in by the form; the own room opens."""
        self.open("/")
        self.page.get_by_label("Username").fill(username)
        self.page.get_by_label("Password").fill(password)
        self.page.get_by_role("button", name="Sign in").click()
        expect(self.page.get_by_text("Sign out")).to_be_visible()
        self.is_ready()

    def press(self, name: str) -> None:
        """Press a button by its words."""
        self.is_ready()
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def reads(self, words: str) -> None:
        """Hold that some words are to be seen."""
        expect(self.page.get_by_text(words).first).to_be_visible()
        self.is_ready()

    def is_ready(self) -> None:
        """Wait until the page's scripts have run: words are seen, and keys pressed, sooner than that."""
        self.page.wait_for_load_state("domcontentloaded")

    def barriers(self) -> list[str]:
        """Return what somebody with a screen reader, a keyboard or a phone could not use here."""
        self.page.evaluate(AXE)
        found: dict[str, Any] = self.page.evaluate("axe.run(document)")
        barriers = [
            f"{self.page.url}: {one['id']} ({one['impact']}): {one['nodes'][0]['html'][:160]}"
            for one in found["violations"]
            if one["impact"] in BAD
        ]
        over = self.page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        if over > 0:
            barriers.append(f"{self.page.url}: {over} px wider than the window")
        return barriers

    def finds_no_barrier(self) -> None:
        """Hold that there is no serious barrier on the page."""
        barriers = self.barriers()
        assert not barriers, "\n".join(barriers)
