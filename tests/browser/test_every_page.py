"""Every page that opens is usable with a screen reader, by keyboard, and on a phone."""

from collections.abc import Callable

import pytest
import time_machine
from django.test import Client

from tests import builders, world
from tests.browser.visitor import Visitor
from tests.scene import Scene
from tests.test_access import DOORS, urls

pytestmark = pytest.mark.browser
# What a browser shows by itself, without a page of ours.
NOT_PAGES = (".csv", ".xlsx", ".pdf", ".zip", ".txt", ".png", "/api/v1/")


def pages() -> list[str]:
    """Return the address of every page that opens, with an object of its own where it needs one."""
    with time_machine.travel(builders.NOW):
        builders.load_defaults()
        scene = Scene({"north": world.one_of_each("north")}, {}, {}, {})
    found = [
        url for name, door in DOORS.items() if door.opens for url in urls(scene, name, "north")
    ]
    return [url for url in found if not any(word in url for word in NOT_PAGES)]


def test_no_page_has_a_serious_barrier(arrive: Callable[..., Visitor], width: int) -> None:
    urls = pages()
    assert len(urls) > 50
    visitor = arrive(width)
    client = Client()
    client.force_login(builders.person("north_everything"))
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": visitor.base}
    visitor.page.context.add_cookies([cookie])
    barriers = []
    for url in urls:
        visitor.open(url)
        barriers += visitor.barriers()
    assert not barriers, "\n".join(barriers)
