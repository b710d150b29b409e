import pytest

from followup.rules.image_boxes import MOST_BOXES, Box, boxes_of, held_boxes
from registry.errors import BadInput


def test_boxes_are_written_one_a_line() -> None:
    assert boxes_of("1 2 30 40\n\n 2, 0, 0, 5, 6 ") == [Box(0, 1, 2, 30, 40), Box(2, 0, 0, 5, 6)]
    assert boxes_of("") == []


@pytest.mark.parametrize("text", ["1 2 3", "a b c d", "-1 0 5 5", "1 2 3 4 5 6", "0 0 9999999 1"])
def test_a_line_that_is_no_box_is_named(text: str) -> None:
    with pytest.raises(BadInput, match="Line 2"):
        boxes_of(f"0 0 1 1\n{text}")


def test_boxes_are_held_to_the_picture() -> None:
    held = held_boxes([Box(0, 5, 5, 900, 900)], rows=10, columns=20, frames=1)
    assert held == [Box(0, 5, 5, 20, 10)]


@pytest.mark.parametrize(
    "boxes",
    [
        [],
        [Box(0, 5, 0, 5, 3)],
        [Box(0, 0, 3, 5, 2)],
        [Box(0, 20, 0, 25, 3)],
        [Box(2, 0, 0, 1, 1)],
        [Box(0, 0, 0, 1, 1)] * (MOST_BOXES + 1),
    ],
)
def test_boxes_that_cannot_be_are_refused(boxes: list[Box]) -> None:
    with pytest.raises(BadInput):
        held_boxes(boxes, rows=10, columns=20, frames=1)
