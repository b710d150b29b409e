import pytest

from followup.rules.image_levels import Levels, asked_levels
from registry.errors import BadInput

USUAL = Levels(least=-100, most=4000, shown_low=200, shown_high=1800)


def test_levels_are_as_asked_or_as_usual() -> None:
    assert asked_levels("", "", USUAL) is None
    assert asked_levels("-50.5", "", USUAL) == (-50.5, 1800)
    assert asked_levels("300", "900", USUAL) == (300, 900)


@pytest.mark.parametrize(("low", "high"), [("x", ""), ("nan", ""), ("", "inf"), ("5", "5")])
def test_levels_that_cannot_be_are_refused(low: str, high: str) -> None:
    with pytest.raises(BadInput):
        asked_levels(low, high, USUAL)
