"""The figure of a clinic's weeks as plain shapes: bars of who is due against the line of slots."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from followup.rules.attendance import Absence, expected
from followup.rules.clinic_weeks import Week

WIDTH, HEIGHT = 900, 330
LEFT, RIGHT, TOP, BOTTOM = 44, 12, 26, 58
TICKS = 5
NICE = (1, 2, 5)
Height = Callable[[float], float]


@dataclass(frozen=True)
class Box:
    """A rectangle, in the units of the drawing."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Bar:
    """One week: the booked, those not booked yet over them, and what goes beyond the slots."""

    label: str
    middle: float
    booked: Box
    waiting: Box
    beyond: Box | None
    over: int
    over_y: float
    likely_y: float | None
    low_y: float
    high_y: float
    words: str


@dataclass(frozen=True)
class Tick:
    """A line across at a round number."""

    y: float
    text: str


@dataclass(frozen=True)
class LoadFigure:
    """Everything that the drawing needs, in its own units."""

    width: int
    height: int
    left: int
    right: int
    base: float
    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    slots: str
    has_range: bool


def draw(weeks: Sequence[Week], past: Absence) -> LoadFigure:
    """Return the shapes of the weeks; the step line of slots is a path of `M`, `H` and `V`."""
    step = (WIDTH - LEFT - RIGHT) / max(1, len(weeks))
    most = max([1, *(max(one.due, one.slots) for one in weeks)])
    ticks = _ticks(most)
    top = ticks[-1]
    base = HEIGHT - BOTTOM

    def at(number: float) -> float:
        return round(base - (base - TOP) * number / top, 1)

    bars = tuple(
        _bar(one, past, LEFT + n * step, step, at, thin=n % 2 == 1) for n, one in enumerate(weeks)
    )
    path = []
    for n, one in enumerate(weeks):
        start = round(LEFT + n * step, 1)
        path.append(f"M{start} {at(one.slots)}" if n == 0 else f"V{at(one.slots)}")
        path.append(f"H{round(LEFT + (n + 1) * step, 1)}")
    return LoadFigure(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        base=base,
        bars=bars,
        ticks=tuple(Tick(at(number), str(number)) for number in ticks),
        slots=" ".join(path),
        has_range=past.share is not None,
    )


def _ticks(most: int) -> list[int]:
    """Return round numbers from 0 to at least the most, some five of them."""
    size, scale = 1, 1
    while size * TICKS < most:
        for nice in NICE:
            size = nice * scale
            if size * TICKS >= most:
                break
        scale *= 10
    return list(range(0, most + size, size))


def _bar(week: Week, past: Absence, left: float, step: float, at: Height, *, thin: bool) -> Bar:
    x, width = round(left + step * 0.14, 1), round(step * 0.72, 1)
    come = expected(week.due, past)
    said = (
        f"{week.name}: {week.slots} slots, {week.booked} booked, {week.waiting} due, not booked"
        + (f"; {week.over} too many" if week.over else "")
    )
    return Bar(
        label="" if thin else week.name[5:],
        middle=round(left + step / 2, 1),
        booked=_box(x, width, 0, week.booked, at),
        waiting=_box(x, width, week.booked, week.due, at),
        beyond=_box(x, width, week.slots, week.due, at) if week.over else None,
        over=week.over,
        over_y=round(at(week.due) - 6, 1),
        likely_y=at(come.likely) if come.likely else None,
        low_y=at(come.low),
        high_y=at(come.high),
        words=said,
    )


def _box(x: float, width: float, low: float, high: float, at: Height) -> Box:
    return Box(x, at(high), width, round(at(low) - at(high), 1))
