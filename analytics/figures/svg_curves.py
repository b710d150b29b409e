"""Step curves for paper: named at their ends, with dashes, and numbers at risk below."""

from collections.abc import Sequence
from dataclasses import dataclass

from analytics.answers.outcomes import RISK_TABLE_DAYS, Answer
from analytics.figures.curves import DAYS_A_MONTH, MOST_BANDS, TICKS, Steps, steps
from analytics.figures.svg import (
    SIZE,
    Canvas,
    Drawing,
    Scale,
    axis_below,
    spread,
    ticks_to,
    width_of,
)
from analytics.figures.template import RULE, SLATE, Mark, mark_for

PLOT, TOP, LINE = 140.0, 10.0, 11.0
# The smallest height of the axis, in per cent: below it small numbers would look large.
LEAST = 10.0
# Paler than any curve, so that nobody takes the way to a name for a curve that goes on.
LEADER = "#8a8478"


@dataclass(frozen=True)
class StepLine:
    """One curve: months against per cent, numbers at risk by month, and how it is drawn."""

    name: str
    months: tuple[float, ...]
    share: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    at_risk: tuple[tuple[float, int], ...]
    mark: Mark


def of_answer(result: Answer) -> list[StepLine]:
    """Return the curves of an answer, each as far as enough remain at risk."""
    groups = [curve.group for curve in result.curves]
    return [_line_of(one, mark_for(one.group, groups)) for one in steps(result)]


def _line_of(one: Steps, mark: Mark) -> StepLine:
    at_risk = zip((day / DAYS_A_MONTH for day in RISK_TABLE_DAYS), one.at_risk, strict=True)
    return StepLine(one.group, one.months, one.share, one.low, one.high, tuple(at_risk), mark)


def step_curves(lines: Sequence[StepLine], words: str) -> Drawing:
    """Draw curves in one plot; intervals are shaded where there are few enough to be told apart."""
    names = max([40.0, *(width_of(line.name) for line in lines)])
    last = max([12.5, *(line.months[-1] * 1.02 for line in lines)])
    banded = lines if len(lines) <= MOST_BANDS else ()
    top = max([LEAST, *(max(line.share) * 1.12 for line in lines)])
    top = min(100.0, max([top, *(max(line.high) for line in banded)]))
    foot = TOP + PLOT
    canvas = Canvas(height=foot + 44 + LINE * (len(lines) + 1))
    across = Scale(0.0, last, max(34.0, names + 8), canvas.width - names - 18)
    up = Scale(0.0, top, foot, TOP)
    for tick in ticks_to(top, 5):
        canvas.line((across.start, up.at(tick)), (across.end, up.at(tick)), RULE, 0.6)
        canvas.text((across.start - 4, up.at(tick) + SIZE / 3), f"{tick:g}%", anchor="end")
    for line in banded:
        _band(canvas, line, across, up)
    for line in lines:
        points = _stairs(line.months, line.share)
        places = [(across.at(x), up.at(y)) for x, y in points]
        canvas.path(places, line.mark.colour, 1.5, line.mark.dash)
    _names(canvas, lines, across, up)
    axis_below(canvas, across, foot, [tick for tick in TICKS if tick <= last], "")
    middle = (across.start + across.end) / 2
    canvas.text((middle, foot + 25), "months since the operation", anchor="middle", colour=SLATE)
    _risk_table(canvas, lines, across, foot + 42)
    return canvas.done(words)


def _stairs(x: Sequence[float], y: Sequence[float]) -> list[tuple[float, float]]:
    points = [(x[0], y[0])]
    for place in range(1, len(x)):
        points += [(x[place], y[place - 1]), (x[place], y[place])]
    return points


def _band(canvas: Canvas, line: StepLine, across: Scale, up: Scale) -> None:
    above, below = _stairs(line.months, line.high), _stairs(line.months, line.low)
    outline = [(across.at(x), up.at(y)) for x, y in (*above, *reversed(below))]
    canvas.area(outline, line.mark.colour)


def _names(canvas: Canvas, lines: Sequence[StepLine], across: Scale, up: Scale) -> None:
    """Write each name beside the plot, with a thin line to the end of its curve."""
    ends = [(across.at(line.months[-1]), up.at(line.share[-1])) for line in lines]
    heights = spread([y for _, y in ends], SIZE + 2, TOP, TOP + PLOT - 2)
    for line, (x, y), height in zip(lines, ends, heights, strict=True):
        canvas.symbol((x, y), line.mark.symbol, line.mark.colour, 2.4)
        canvas.line((x + 3, y), (across.end + 8, height), LEADER, 0.4, "dot")
        canvas.text((across.end + 11, height + SIZE / 3), line.name, bold=True)


def _risk_table(canvas: Canvas, lines: Sequence[StepLine], across: Scale, y: float) -> None:
    canvas.text((0, y), "still at risk", bold=True, colour=SLATE)
    for place, line in enumerate(lines, start=1):
        base = y + LINE * place
        canvas.text((0, base), line.name)
        for month, number in line.at_risk:
            if month <= across.high:
                canvas.text((across.at(month), base), str(number), anchor="middle")
