"""The nightly draw of second readings."""

import pytest

from followup.models import WantedReading
from followup.tasks.readings import draw
from tests.followup.twice import film, policy, read, readers

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_night_draws_and_says_how_many() -> None:
    read(film(), readers(1)[0])
    policy()
    said = draw()["said"]
    assert "wanted 1" in said or "1 wanted" in said, said
    assert WantedReading.objects.count() == 1
