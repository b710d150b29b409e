import pytest

from followup.rules.view_words import posture_of, view_of


@pytest.mark.parametrize(
    ("words", "view", "posture"),
    [
        (("Both shoulders Zanca upright",), "zanca", "upright"),
        (("AP", "SHOULDER erect"), "ap", "upright"),
        (("Schulter axial liegend",), "axillary", "supine"),
        (("Thorax_PA",), "chest", ""),
        (("Maple Street Apparatus",), "", ""),
        ((), "", ""),
    ],
)
def test_view_and_posture_are_found_in_the_words(
    words: tuple[str, ...], view: str, posture: str
) -> None:
    assert view_of(*words) == view
    assert posture_of(*words) == posture
