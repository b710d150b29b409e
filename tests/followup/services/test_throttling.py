"""So many knocks in so many seconds."""

from datetime import timedelta

import pytest
from django.core.cache import cache

from followup.services.throttling import allow
from tests.builders import NOW


@pytest.fixture(autouse=True)
def nothing_counted() -> None:
    cache.clear()


def test_so_many_are_let_in_and_the_next_is_not() -> None:
    let_in = [allow(key="door", limit=3, seconds=600, now=NOW) for _ in range(5)]
    assert let_in == [True, True, True, False, False]


def test_the_next_stretch_begins_anew() -> None:
    for _ in range(4):
        allow(key="door", limit=3, seconds=600, now=NOW)
    assert allow(key="door", limit=3, seconds=600, now=NOW + timedelta(seconds=600))


def test_doors_are_counted_apart() -> None:
    assert allow(key="one", limit=1, seconds=600, now=NOW)
    assert allow(key="other", limit=1, seconds=600, now=NOW)
    assert not allow(key="one", limit=1, seconds=600, now=NOW)
