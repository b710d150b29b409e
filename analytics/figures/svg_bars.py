"""Stacked bars for paper: parts of a whole told apart by shade and by hatching, numbers in them."""

from collections.abc import Sequence
from dataclasses import dataclass

from analytics.answers.attendance import Line
from analytics.answers.function import FunctionAnswer
from analytics.answers.measures import LEVELS
from analytics.answers.outcomes import ALL
from analytics.figures.attendance import FATES, bar_words
from analytics.figures.function import SHADES, over_time_words
from analytics.figures.svg import SIZE, Canvas, Drawing, Point, Scale, axis_below, width_of
from analytics.figures.template import INK, PAPER, SLATE

BAR, GAP, TOP, KEY = 13.0, 5.0, 2.0, 13.0
# A number that does not fit its part would lie over the next one.
LEAST_ROOM = 3.0
# The first so many shades are too dark for ink.
DARK = 3


@dataclass(frozen=True)
class Piece:
    """One sort of part: its words, fill, the hatching over it ('' for none) and its numbers' colour."""

    words: str
    fill: str
    hatch: str
    colour: str


@dataclass(frozen=True)
class Bar:
    """One bar: its name, the whole, and so many in each piece."""

    label: str
    whole: int
    numbers: tuple[int, ...]


def attendance_bars(lines: tuple[Line, ...]) -> Drawing:
    """Draw how planned reviews ended at each step; the last line, of all, is left to the table."""
    pieces = [
        Piece(
            fate.words,
            PAPER if fate.pattern else fate.colour,
            fate.pattern,
            INK if fate.pattern else "#ffffff",
        )
        for fate in FATES
    ]
    steps = [line for line in lines[:-1] if line.planned]
    bars = [Bar(line.label, line.planned, tuple(fate.of(line) for fate in FATES)) for line in steps]
    return stacked(bars, pieces, bar_words(lines))


def level_bars(found: FunctionAnswer) -> Drawing:
    """Draw how far the hand reached at each horizon, from the lowest level to the highest."""
    pieces = [
        Piece(name, SHADES[place], "", PAPER if place < DARK else INK)
        for place, name in enumerate(LEVELS)
    ]
    rows = [row for row in found.shown if row.group == ALL and row.number]
    bars = [Bar(row.horizon.name, row.number, tuple(row.levels)) for row in rows]
    return stacked(bars, pieces, over_time_words(found))


def stacked(bars: Sequence[Bar], pieces: Sequence[Piece], words: str) -> Drawing:
    """Draw bars from top to bottom, each as long as a hundred per cent, with a key below."""
    keys = _rows_of_key(pieces)
    foot = TOP + (BAR + GAP) * max(1, len(bars))
    canvas = Canvas(height=foot + 20 + KEY * len(keys))
    name = max([40.0, *(width_of(bar.label) + 6 for bar in bars)])
    scale = Scale(0.0, 100.0, name + 34, canvas.width - 12)
    for place, bar in enumerate(bars):
        y = TOP + (BAR + GAP) * place
        canvas.text((0, y + BAR / 2 + SIZE / 3), bar.label, bold=True)
        canvas.text((name + 28, y + BAR / 2 + SIZE / 3), str(bar.whole), anchor="end")
        _bar(canvas, bar, pieces, scale, y)
    axis_below(canvas, scale, foot, (0, 25, 50, 75, 100), "%")
    for number, row in enumerate(keys):
        x = 0.0
        for piece in row:
            y = foot + 20 + KEY * number
            _piece(canvas, (x, y), (14.0, 9.0), piece)
            canvas.text((x + 18, y + 8), piece.words, colour=SLATE)
            x += 18 + width_of(piece.words) + 12
    return canvas.done(words)


def _rows_of_key(pieces: Sequence[Piece]) -> list[list[Piece]]:
    rows: list[list[Piece]] = [[]]
    x = 0.0
    for piece in pieces:
        wide = 18 + width_of(piece.words) + 12
        if rows[-1] and x + wide > Canvas(0).width:
            rows.append([])
            x = 0.0
        rows[-1].append(piece)
        x += wide
    return rows


def _bar(canvas: Canvas, bar: Bar, pieces: Sequence[Piece], scale: Scale, y: float) -> None:
    so_far = 0
    for number, piece in zip(bar.numbers, pieces, strict=True):
        if not number:
            continue
        start, end = (scale.at(100 * at / bar.whole) for at in (so_far, so_far + number))
        _piece(canvas, (start, y), (end - start, BAR), piece)
        so_far += number
        words = str(number)
        if end - start >= width_of(words) + LEAST_ROOM:
            middle = ((start + end) / 2, y + BAR / 2 + SIZE / 3)
            if piece.hatch:
                wide = width_of(words) + 2
                canvas.rect((middle[0] - wide / 2, y + 2), (wide, BAR - 4), PAPER)
            canvas.text(middle, words, anchor="middle", colour=piece.colour)


def _piece(canvas: Canvas, corner: Point, size: Point, piece: Piece) -> None:
    canvas.rect(corner, size, piece.fill, INK)
    left, top = corner
    right, bottom = left + size[0], top + size[1]
    step = 4.0
    if piece.hatch == "-":
        y = top + step
        while y < bottom:
            canvas.line((left, y), (right, y), SLATE, 0.6)
            y += step
    for turn in {"/": (1,), "x": (1, -1), ".": ()}.get(piece.hatch, ()):
        _slanted(canvas, (left, top, right, bottom), step, turn)
    if piece.hatch == ".":
        x = left + step / 2
        while x < right:
            canvas.line((x, top), (x, bottom), SLATE, 0.8, "dot")
            x += step


def _slanted(
    canvas: Canvas, box: tuple[float, float, float, float], step: float, turn: int
) -> None:
    """Draw slanted lines within a box, from its left edge to beyond its right one."""
    left, top, right, bottom = box
    high = bottom - top
    offset = -high + step
    while offset < right - left:
        x0, x1 = left + max(offset, 0.0), left + min(offset + high, right - left)
        y0, y1 = (bottom - (x - left - offset) for x in (x0, x1))
        if turn < 0:
            y0, y1 = (top + bottom - y for y in (y0, y1))
        canvas.line((x0, y0), (x1, y1), SLATE, 0.6)
        offset += step
