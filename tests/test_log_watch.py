"""What reads along in the log finds a name, wherever in a line it stands."""

import logging

import pytest

from tests import log_watch, world


@pytest.mark.parametrize(
    "said",
    [
        f"refused {world.WHO['north']['family_name']}",
        f"no such address: {world.WHO['south']['email']}",
        "to 0555 010 4407",
        "Testfamily12, Ada",
    ],
)
def test_a_line_with_a_name_is_kept(said: str) -> None:
    watch = log_watch.Watch()
    watch.handle(logging.LogRecord("x", logging.INFO, "x.py", 1, "%s", (said,), None))
    assert len(watch.taken()) == 1
    assert watch.taken() == []


def test_a_line_without_one_is_not() -> None:
    watch = log_watch.Watch()
    watch.handle(logging.LogRecord("x", logging.INFO, "x.py", 1, "Not Found: /due/", (), None))
    assert watch.taken() == []
