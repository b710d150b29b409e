from typing import Any

import pytest

from tests import builders


@pytest.fixture(autouse=True)
def nine_o_clock(time_machine: Any) -> None:
    """The interface reads the clock; rows that the builders save are not newer than it."""
    time_machine.move_to(builders.NOW)
