"""A browser, somebody who drives it, and an invented service behind it."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, expect, sync_playwright

from config.demo.load import Wanted, load
from followup.models import Appointment, ClosedDay, Review
from followup.services import reviews
from registry.models import Person
from tests import builders, servers
from tests.browser.visitor import Visitor

# The driver keeps an event loop in this thread, for which Django would refuse every query.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PHONE, DESK = 360, 1440
# A machine that does more than this test is slow, not wrong.
expect.set_options(timeout=30_000)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=servers.browser(), args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def width(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture
def arrive(chromium: Browser, live_server: Any) -> Iterator[Callable[..., Visitor]]:
    """Return a way to let somebody arrive with a browser of their own; at the end all are content.

    Content: no script failed, nothing was blocked by the content policy.
    """
    arrived: list[Visitor] = []

    def someone(width: int = DESK, *, touch: bool = False) -> Visitor:
        context = chromium.new_context(
            viewport={"width": width, "height": 900},
            locale="en-GB",
            accept_downloads=True,
            has_touch=touch,
        )
        visitor = Visitor(context.new_page(), live_server.url)
        arrived.append(visitor)
        return visitor

    yield someone
    complaints = [line for visitor in arrived for line in visitor.complaints]
    for visitor in arrived:
        visitor.page.context.close()
    assert not complaints, "\n".join(complaints)


@pytest.fixture
def service(live_server: Any) -> None:
    """Load a small invented service, of which somebody comes today."""
    builders.load_defaults()
    load(
        Wanted(procedures=90),
        now=timezone.localtime(),
        today=timezone.localdate(),
        whole=True,
    )


@pytest.fixture
def coming(service: None) -> Review:
    """Make sure that somebody comes to the surgeon today, and return the first of them."""
    today, now = timezone.localdate(), timezone.now()
    surgeon = Person.objects.get(username="surgeon")
    booked = Appointment.objects.filter(on=today, state="booked", surgeon=surgeon)
    if not booked.exists():
        clinic = surgeon.clinics.get(weekday=today.weekday())
        review = (
            Review.objects.filter(site=clinic.site, state="planned", closes_on__gte=today)
            .order_by("due_on")
            .first()
        )
        assert review is not None
        # Somebody comes on a holiday as well.
        ClosedDay.objects.filter(site=clinic.site, on=today).delete()
        reviews.book(
            review=review,
            clinic=clinic,
            on=today,
            at=clinic.starts_at,
            expected_version=review.version,
            by=Person.objects.get(username="coordinator"),
            now=now,
            today=today,
        )
    first = booked.select_related("review__procedure__injury").order_by("at").first()
    assert first is not None
    return first.review
