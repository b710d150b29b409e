"""One or more versions of a protocol on one axis of time, as plain numbers to be drawn.

The axis goes by the square root of the days, so that the early weeks, which are close together, can
be read beside the late months. Months are drawn as they lie after an operation on 1 January.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from followup.rules.steps import HORIZONS, StepFacts, in_words
from followup.rules.windows import StepPlan, window_for

START = date(2025, 1, 1)
WIDTH, MARGIN, TOP = 400, 8, 8
NAME_HEIGHT, LANE_HEIGHT, GAP, AXIS_HEIGHT = 16, 14, 10, 34
# Labels that would run into each other are left out.
APART = 28.0
# A window of a single day is still seen.
LEAST_WIDTH = 4.0
TICKS = ((0, "0"), (14, "2 w"), (42, "6 w"), (91, "3 m"), (182, "6 m"), (365, "12 m"))
YEAR_DAYS, MOST_YEARS_SHOWN = 365, 4


@dataclass(frozen=True)
class Bar:
    """One window: its left edge, width and top, where its due day stands, and it in words."""

    x: float
    width: float
    y: float
    due_x: float
    lane: int
    words: str

    @property
    def due_top(self) -> float:
        """Where the mark of the due day begins, a little above the bar."""
        return self.y - 2

    @property
    def due_bottom(self) -> float:
        """Where the mark of the due day ends."""
        return self.y + LANE_HEIGHT - 2


@dataclass(frozen=True)
class Row:
    """One timepoint: its name, the horizon that it counts for, and a bar for each version that has it."""

    name: str
    name_y: float
    horizon: str
    bars: tuple[Bar, ...]
    differs: bool


@dataclass(frozen=True)
class Tick:
    """One mark on the axis."""

    x: float
    label: str
    anchor: str


@dataclass(frozen=True)
class Picture:
    """Everything that is drawn, in the units of its own width and height."""

    width: int
    height: float
    rows: tuple[Row, ...]
    ticks: tuple[Tick, ...]
    axis_y: float
    label_y: float
    bar_height: int
    words: str


def picture(versions: Mapping[str, Sequence[StepFacts]]) -> Picture:
    """Return the picture of one version, or of several under their names on one axis.

    Raises ValueError without a step.
    """
    if not any(versions.values()):
        raise ValueError("there is no step to be drawn")
    last = max(_days(step)[2] for steps in versions.values() for step in steps)
    y, rows = float(TOP), []
    for code in _codes(versions):
        found = [
            (lane, name, step)
            for lane, (name, steps) in enumerate(versions.items())
            for step in steps
            if step.code == code
        ]
        top = y + NAME_HEIGHT
        bars = tuple(
            _bar(step, lane, top + place * LANE_HEIGHT, last, name if len(versions) > 1 else "")
            for place, (lane, name, step) in enumerate(found)
        )
        step = found[-1][2]
        said = {in_words(one) for _, _, one in found}
        rows.append(
            Row(
                name=step.name,
                name_y=y + NAME_HEIGHT - 5,
                horizon=HORIZONS.get(step.horizon, ""),
                bars=bars,
                differs=len(versions) > 1 and (len(found) < len(versions) or len(said) > 1),
            )
        )
        y = top + len(found) * LANE_HEIGHT + GAP
    return Picture(
        width=WIDTH,
        height=y + AXIS_HEIGHT,
        rows=tuple(rows),
        ticks=_ticks(last),
        axis_y=y,
        label_y=y + 15,
        bar_height=LANE_HEIGHT - 4,
        words=_words(versions),
    )


def place(day: int, last: int) -> float:
    """Return where a day after the operation stands on an axis that ends on the last one."""
    room = WIDTH - 2 * MARGIN
    return round(MARGIN + room * math.sqrt(day / max(last, 1)), 1)


def _bar(step: StepFacts, lane: int, y: float, last: int, version: str) -> Bar:
    opens, due, closes = _days(step)
    said = in_words(step)
    left = place(opens, last)
    words = f"{step.name}: due {said.when} after the operation, {said.window}"
    return Bar(
        x=left,
        width=max(LEAST_WIDTH, round(place(closes, last) - left, 1)),
        y=y,
        due_x=place(due, last),
        lane=lane,
        words=f"{version}, {words}" if version else words,
    )


def _days(step: StepFacts) -> tuple[int, int, int]:
    """Return the first, due and last day of a step, counted from the operation."""
    plan = StepPlan(
        step.code,
        step.offset_value,
        step.offset_unit,
        step.window_before_days,
        step.window_after_days,
    )
    window = window_for(START, plan)
    opens, due, closes = (
        (day - START).days for day in (window.opens_on, window.due_on, window.closes_on)
    )
    return opens, due, closes


def _codes(versions: Mapping[str, Sequence[StepFacts]]) -> list[str]:
    """Return the codes of all steps by the earliest day on which one of the versions has them due."""
    first: dict[str, int] = {}
    for steps in versions.values():
        for step in steps:
            due = _days(step)[1]
            first[step.code] = min(due, first.get(step.code, due))
    return sorted(first, key=lambda code: first[code])


def _ticks(last: int) -> tuple[Tick, ...]:
    years = [(n * YEAR_DAYS, f"{n * 12} m") for n in range(2, MOST_YEARS_SHOWN + 1)]
    far = [(n * YEAR_DAYS, f"{n} y") for n in (10, 25, 50, 100)]
    shown = [(day, label) for day, label in (*TICKS, *years, *far) if day <= last]
    ticks: list[Tick] = []
    for day, label in shown:
        x = place(day, last)
        if not ticks or x - ticks[-1].x >= APART:
            ticks.append(Tick(x, label, "start" if day == 0 else "middle"))
    return tuple(ticks)


def _words(versions: Mapping[str, Sequence[StepFacts]]) -> str:
    parts = [
        f"{name}: {len(steps)} steps, the last due {in_words(steps[-1]).when} after the operation"
        for name, steps in versions.items()
        if steps
    ]
    return "; ".join(parts)
