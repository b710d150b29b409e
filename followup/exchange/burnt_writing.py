"""Looks for writing burnt into a picture: small sharp marks of one height, side by side in a line.

It warns and proposes boxes, and a person looks: it knows upright writing that is nearly as bright or as
dark as anything in the picture, and no other. That it finds nothing says nothing.
"""

from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Pixels = NDArray[np.uint8]

# Larger pictures are looked at in so many pixels: writing on them is larger too.
MOST_PIXELS = 4_000_000
# What a letter is, in pixels as they are looked at; common practice, no source.
LEAST_HIGH, MOST_HIGH = 6, 120
NARROWEST, WIDEST = 0.08, 1.8
THINNEST = 0.12
# How near to the brightest its strokes are, and how far from what is around it, of 255.
STROKE, STANDS_OUT = 210, 70
FEWEST_IN_LINE = 4
# Where fewer of the marks than this stand in lines, they are grain, and the lines are chance.
LEAST_SHARE = 0.1
# Fewer pixels are no letter; more patches than this are grain, in which no letter is found.
LEAST_PIXELS, MOST_PATCHES = 6, 100_000
MARGIN = 4


@dataclass(frozen=True)
class _Mark:
    """A connected patch that could be a letter, by its edges; right and bottom are without."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def high(self) -> int:
        return self.bottom - self.top


def find_writing(pixels: Pixels) -> tuple[tuple[int, int, int, int], ...]:
    """Return boxes around what looks like lines of writing, each (left, top, right, bottom) in pixels.

    `pixels` are rows x columns of 8 bits, or x 3 colours. Right and bottom are without; boxes have a
    small margin and lie inside the picture.
    """
    grey = pixels if pixels.ndim == 2 else pixels.max(axis=2)
    rows, columns = grey.shape
    step = max(1, ceil(sqrt(rows * columns / MOST_PIXELS)))
    found = []
    for bright in (_pooled(grey, step), _pooled(255 - grey, step)):
        marks = _marks(bright)
        lines = _lines(marks)
        if sum(len(line) for line in lines) < LEAST_SHARE * len(marks):
            continue
        for line in lines:
            margin = MARGIN + max(mark.high for mark in line) // 4
            found.append(
                (
                    max(0, (min(mark.left for mark in line) - margin) * step),
                    max(0, (min(mark.top for mark in line) - margin) * step),
                    min(columns, (max(mark.right for mark in line) + margin) * step),
                    min(rows, (max(mark.bottom for mark in line) + margin) * step),
                )
            )
    return tuple(sorted(found, key=lambda box: (box[1], box[0])))


def _pooled(grey: Pixels, step: int) -> Pixels:
    """Return the brightest of each square of pixels, so that no thin stroke is lost."""
    if step == 1:
        return grey
    rows, columns = (size // step for size in grey.shape)
    squares = grey[: rows * step, : columns * step].reshape(rows, step, columns, step)
    pooled: Pixels = squares.max(axis=(1, 3))
    return pooled


def _marks(grey: Pixels) -> list[_Mark]:
    """Return the patches of strokes that could be letters."""
    patches, count = _patches(grey >= STROKE)
    # Noise makes patches without end, each of a pixel or two.
    large = np.bincount(patches.ravel(), minlength=count + 1) >= LEAST_PIXELS
    large[0] = False
    patches, count = _patches(large[patches])
    if count > MOST_PATCHES:
        return []
    found = []
    for number, place in enumerate(ndimage.find_objects(patches), 1):
        down, across = place
        mark = _Mark(down.start, across.start, down.stop, across.stop)
        wide = mark.right - mark.left
        if not (LEAST_HIGH <= mark.high <= MOST_HIGH):
            continue
        if NARROWEST * mark.high <= wide <= WIDEST * mark.high and _stands_out(
            grey, patches, number, mark
        ):
            found.append(mark)
    return found


def _patches(strokes: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    return ndimage.label(strokes, structure=np.ones((3, 3)))  # type: ignore[no-any-return]


def _stands_out(grey: Pixels, patches: NDArray[np.int32], number: int, mark: _Mark) -> bool:
    around = (
        slice(max(0, mark.top - 2), mark.bottom + 2),
        slice(max(0, mark.left - 2), mark.right + 2),
    )
    stroke, values = patches[around] == number, grey[around]
    thick = stroke.sum() / (mark.high * (mark.right - mark.left))
    if thick < THINNEST or stroke.all():
        return False
    return bool(values[stroke].mean() - values[~stroke].mean() >= STANDS_OUT)


def _lines(marks: list[_Mark]) -> list[list[_Mark]]:
    """Return the marks that stand side by side, as many as make a word."""
    waiting = sorted(marks, key=lambda mark: mark.left)
    lines: list[list[_Mark]] = []
    for mark in waiting:
        line = next((one for one in reversed(lines) if _goes_on(one, mark)), None)
        if line is None:
            lines.append([mark])
        else:
            line.append(mark)
    return [line for line in lines if len(line) >= FEWEST_IN_LINE and _is_wide(line)]


def _goes_on(line: list[_Mark], mark: _Mark) -> bool:
    last = line[-1]
    high, low = max(last.high, mark.high), min(last.high, mark.high)
    shared = min(last.bottom, mark.bottom) - max(last.top, mark.top)
    return high <= 2.2 * low and shared >= 0.5 * low and mark.left - last.right <= 1.5 * high


def _is_wide(line: list[_Mark]) -> bool:
    wide = max(mark.right for mark in line) - min(mark.left for mark in line)
    return wide >= 1.5 * max(mark.high for mark in line)
