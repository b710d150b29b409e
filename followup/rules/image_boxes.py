"""Boxes that are painted over a picture for good, given by their edges in pixels."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.errors import BadInput

MOST_BOXES = 50


@dataclass(frozen=True)
class Box:
    """A box from `left` up to, and without, `right`; `top` likewise. Frame 0 means every frame."""

    frame: int
    left: int
    top: int
    right: int
    bottom: int


def held_boxes(boxes: Sequence[Box], *, rows: int, columns: int, frames: int) -> list[Box]:
    """Return the boxes as far as they lie in the picture.

    Raises BadInput for none at all, for too many, and for one that lies outside or is turned round.
    """
    if not 0 < len(boxes) <= MOST_BOXES:
        raise BadInput(f"Give from 1 to {MOST_BOXES} boxes to paint over.")
    held = []
    for number, box in enumerate(boxes, 1):
        if box.left >= box.right or box.top >= box.bottom:
            raise BadInput(
                f"Box {number}: its right edge has to lie right of its left one, "
                "its lower edge below its upper one."
            )
        fits = Box(
            box.frame,
            max(0, box.left),
            max(0, box.top),
            min(columns, box.right),
            min(rows, box.bottom),
        )
        if fits.left >= fits.right or fits.top >= fits.bottom or not 0 <= box.frame <= frames:
            raise BadInput(f"Box {number} lies outside the picture of {columns} by {rows} pixels.")
        held.append(fits)
    return held


def boxes_of(text: str) -> list[Box]:
    """Return boxes written one a line as 'left top right bottom', or with a frame before them.

    Raises BadInput naming the line that is no box.
    """
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        words = line.replace(",", " ").split()
        if not words:
            continue
        if len(words) not in (4, 5) or not all(
            word.isdecimal() and len(word) < 7 for word in words
        ):
            raise BadInput(
                {"boxes": f"Line {number}: write four numbers, left top right bottom, in pixels."}
            )
        numbers = [int(word) for word in words]
        found.append(Box(*(numbers if len(numbers) == 5 else [0, *numbers])))
    return found
