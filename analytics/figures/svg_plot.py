"""The frame of a plot for paper: two straight axes in a part of the sheet, with its heading."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

from analytics.figures.svg import SIZE, Canvas, Point, Scale, ticks_to
from analytics.figures.template import INK, RULE, SLATE

# Room for the numbers of an upright axis, and under a lying one for its numbers and its words.
LEFT, FOOT, HEAD = 34.0, 27.0, 14.0
SMALL = 7.5


@dataclass(frozen=True)
class Plot:
    """A part of a sheet with its axes; a point of data has its place by `at`."""

    canvas: Canvas
    across: Scale
    up: Scale

    def at(self, x: float, y: float) -> Point:
        """Return the place of a point of data."""
        return self.across.at(x), self.up.at(y)

    def path(
        self, points: Sequence[Point], colour: str = INK, width: float = 1.3, dash: str = "solid"
    ) -> None:
        """Draw a line through points of data."""
        self.canvas.path([self.at(*point) for point in points], colour, width, dash)

    def level(self, y: float, colour: str = SLATE, dash: str = "dash", width: float = 1.0) -> None:
        """Draw a lying line from one end to the other."""
        place = self.up.at(y)
        self.canvas.line((self.across.start, place), (self.across.end, place), colour, width, dash)


@dataclass(frozen=True)
class Part:
    """Where on a sheet a plot goes: the upper left corner of all that belongs to it, and its size."""

    corner: Point
    width: float
    height: float


@dataclass(frozen=True)
class Axis:
    """An axis from low to high with its words; `ticks` are its numbers and `names` stand for them."""

    low: float
    high: float
    words: str = ""
    unit: str = ""
    ticks: tuple[float, ...] = ()
    names: tuple[str, ...] = ()

    @property
    def marked(self) -> tuple[float, ...]:
        """The numbers of the axis that lie within it."""
        given = self.ticks or ticks_between(self.low, self.high, 5)
        return tuple(tick for tick in given if self.low <= tick <= self.high)

    def name_of(self, place: int) -> str:
        """Return what is written at the tick of a place."""
        if self.names:
            return self.names[place]
        return f"{self.marked[place]:g}{self.unit}"


def plot(canvas: Canvas, part: Part, across: Axis, up: Axis, heading: str = "") -> Plot:
    """Draw the axes of a plot in a part of a sheet, its heading above them."""
    left, top = part.corner
    head = HEAD if heading else 5.0
    foot = top + part.height - (FOOT if across.words else FOOT - 12)
    scales = (
        Scale(across.low, across.high, left + LEFT, left + part.width - 6),
        Scale(up.low, up.high, foot, top + head),
    )
    made = Plot(canvas, *scales)
    if heading:
        canvas.text((left + LEFT, top + 8), heading, bold=True)
    for place, tick in enumerate(up.marked):
        made.level(tick, RULE, "solid", 0.6)
        canvas.text(
            (left + LEFT - 4, made.up.at(tick) + SMALL / 3),
            up.name_of(place),
            anchor="end",
            size=SMALL,
        )
    canvas.line((made.across.start, foot), (made.across.end, foot), INK, 0.8)
    for place, tick in enumerate(across.marked):
        x = made.across.at(tick)
        canvas.line((x, foot), (x, foot + 3), INK, 0.8)
        canvas.text((x, foot + 11), across.name_of(place), anchor="middle", size=SMALL)
    if across.words:
        middle = (made.across.start + made.across.end) / 2
        canvas.text(
            (middle, foot + 22), across.words, anchor="middle", colour=SLATE, size=SIZE - 0.5
        )
    return made


def ticks_between(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Return round numbers between two values, 0 among them where it lies between."""
    if low >= 0:
        return tuple(tick for tick in ticks_to(high, most) if tick >= low)
    rough = (high - low) / (most - 1)
    power = 10 ** floor(log10(rough))
    step = next(power * by for by in (1, 2, 2.5, 5, 10) if power * by >= rough * 0.999)
    first, last = -floor(-low / step + 1e-9), floor(high / step + 1e-9)
    return tuple(round(step * place, 10) for place in range(first, last + 1))


def stairs(points: Sequence[Point]) -> list[Point]:
    """Return the corners of a line that keeps its height until the next point."""
    found = [points[0]]
    for before, after in itertools.pairwise(points):
        found += [(after[0], before[1]), after]
    return found
