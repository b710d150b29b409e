"""A patient's pain over time, in words and as a small drawing."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

WIDTH, HEIGHT = 360, 120
LEFT, RIGHT, TOP, BOTTOM = 24, 12, 10, 20
WORST = 10


@dataclass(frozen=True)
class Pain:
    """One pain score, 0 to 10 (worst), and whether the hardware was in when it was taken."""

    on: date
    value: float
    hardware_in: bool


@dataclass(frozen=True)
class Dot:
    """One score in the drawing, in its units from the upper left corner."""

    x: int
    y: int
    pain: Pain


@dataclass(frozen=True)
class Drawing:
    """The scores as dots, and the line through them as SVG takes it."""

    dots: tuple[Dot, ...]
    line: str
    width: int = WIDTH
    height: int = HEIGHT
    floor: int = HEIGHT - BOTTOM
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP


def in_words(course: Sequence[Pain], *, most: int = 2) -> str:
    """Say the last scores with their days, oldest first; '' where there are none."""
    if not course:
        return ""
    told = [
        f"{one.value:g} on {one.on:%d %b %Y}{'' if one.hardware_in else ' (hardware out)'}"
        for one in course[-most:]
    ]
    return f"pain {', then '.join(told)}"


def drawing(course: Sequence[Pain]) -> Drawing | None:
    """Lay the scores out by day and height; None for fewer than two, which show no course.

    Raises ValueError when they are not in the order of their days.
    """
    days = [one.on for one in course]
    if days != sorted(days):
        raise ValueError("the scores are not in the order of their days")
    if len(course) < 2:
        return None
    span = max((days[-1] - days[0]).days, 1)
    wide, high = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
    dots = tuple(
        Dot(
            LEFT + round((one.on - days[0]).days / span * wide),
            TOP + round((WORST - one.value) / WORST * high),
            one,
        )
        for one in course
    )
    return Drawing(dots, " ".join(f"{dot.x},{dot.y}" for dot in dots))
