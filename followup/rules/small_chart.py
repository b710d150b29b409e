"""A small chart of one measure over time: dots, a line through them, spans that are asked for.

Only lays out; what it means is said in words beside it (`motion_courses`, `score_courses`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

WIDTH, HEIGHT = 300, 130
LEFT, RIGHT, TOP, BOTTOM = 34, 10, 12, 22
# The axis is never so short that two visits of one week look like a long course.
LEAST_DAYS = 28


@dataclass(frozen=True)
class Point:
    """One value of one day; `is_other` says that it was taken in another way and is drawn hollow."""

    on: date
    value: float
    is_other: bool = False


@dataclass(frozen=True)
class Span:
    """A value that is asked for (at least) or allowed (at most) between two days."""

    opens_on: date
    closes_on: date
    value: float
    is_limit: bool = False


@dataclass(frozen=True)
class Dot:
    """One point in the drawing, from the upper left corner, with its value."""

    x: float
    y: float
    value: float
    is_other: bool
    is_last: bool


@dataclass(frozen=True)
class Bar:
    """One span in the drawing."""

    x: float
    y: float
    until_x: float
    is_limit: bool


@dataclass(frozen=True)
class Tick:
    """A value of the axis."""

    y: float
    text: str


@dataclass(frozen=True)
class SmallChart:
    """All that a template needs to draw it."""

    dots: tuple[Dot, ...]
    line: str
    bars: tuple[Bar, ...]
    level_y: float | None
    ticks: tuple[Tick, ...]
    first: str
    last: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    floor: int = HEIGHT - BOTTOM


def small_chart(
    points: Sequence[Point],
    *,
    low: float,
    high: float,
    starts_on: date,
    ends_on: date,
    spans: Sequence[Span] = (),
    level: float | None = None,
) -> SmallChart | None:
    """Lay points out by day and height between two values; None where there is nothing to draw.

    Spans and points are cut at the ends of the axis; `level` is a line across, such as the other
    side. Raises ValueError when the points are not in the order of their days, or low is not below
    high.
    """
    if low >= high:
        raise ValueError(f"the axis goes from {low:g} to {high:g}; the first has to be smaller")
    if [point.on for point in points] != sorted(point.on for point in points):
        raise ValueError("the points are not in the order of their days")
    if not points and not spans and level is None:
        return None
    paper = _Paper(low, high, starts_on, _end(points, starts_on, ends_on))
    last = max((point.on for point in points if not point.is_other), default=None)
    dots = tuple(
        Dot(
            paper.x(point.on),
            paper.y(point.value),
            point.value,
            point.is_other,
            point.on == last and not point.is_other,
        )
        for point in points
    )
    joined = [dot for dot in dots if not dot.is_other]
    return SmallChart(
        dots=dots,
        line=" ".join(f"{dot.x:g},{dot.y:g}" for dot in joined) if len(joined) > 1 else "",
        bars=tuple(
            Bar(paper.x(one.opens_on), paper.y(one.value), paper.x(one.closes_on), one.is_limit)
            for one in spans
            if one.closes_on >= paper.starts_on and one.opens_on <= paper.ends_on
        ),
        level_y=None if level is None else paper.y(level),
        ticks=tuple(Tick(paper.y(value), f"{value:g}") for value in _values(low, high)),
        first=f"{paper.starts_on:%d %b %Y}",
        last=f"{paper.ends_on:%d %b %Y}",
    )


@dataclass(frozen=True)
class _Paper:
    low: float
    high: float
    starts_on: date
    ends_on: date

    def x(self, day: date) -> float:
        share = (day - self.starts_on).days / (self.ends_on - self.starts_on).days
        return round(LEFT + min(max(share, 0), 1) * (WIDTH - LEFT - RIGHT), 1)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(HEIGHT - BOTTOM - min(max(share, 0), 1) * (HEIGHT - TOP - BOTTOM), 1)


def _end(points: Sequence[Point], starts_on: date, ends_on: date) -> date:
    last = max((point.on for point in points), default=ends_on)
    least = date.fromordinal(starts_on.toordinal() + LEAST_DAYS)
    return max(ends_on, last, least)


def _values(low: float, high: float) -> tuple[float, ...]:
    return (low, high) if low >= 0 else (low, 0, high)
