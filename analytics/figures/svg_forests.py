"""Rates as points with intervals for paper: ours with what is missing, and published ones in grey."""

from collections.abc import Sequence
from dataclasses import dataclass

from analytics.answers.outcomes import ALL, Answer, percent
from analytics.figures.svg import (
    SIZE,
    Canvas,
    Drawing,
    Scale,
    axis_below,
    grid,
    ticks_to,
    width_of,
)
from analytics.figures.template import INK, RULE, SLATE, Mark, mark_for

TOTAL = Mark(INK, "diamond-open", "solid")
# What others published is drawn in grey, open and dashed: a comparator, not one of our groups.
PUBLISHED = Mark("#767676", "circle-open", "dash")
ROW, TOP, FOOT = 16.0, 10.0, 30.0
MOST_LABEL = 170.0


@dataclass(frozen=True)
class ForestRow:
    """One line: shares from 0 to 1. `bounds` is what the missing could make of it.

    `further` is a wider interval drawn thin, such as a prediction interval. A row without an
    estimate is a heading.
    """

    label: str
    counts: str = ""
    estimate: float | None = None
    low: float = 0.0
    high: float = 0.0
    bounds: tuple[float, float] | None = None
    further: tuple[float, float] | None = None
    mark: Mark = TOTAL
    note: str = ""


def of_answer(result: Answer) -> list[ForestRow]:
    """Return the rows of a rate by group; a group that nobody can judge has no line."""
    groups = [row.group for row in result.rows]
    return [
        ForestRow(
            label="all" if row.group == ALL else row.group,
            counts=f"{row.events}/{row.evaluable}",
            estimate=row.rate.estimate,
            low=row.rate.low,
            high=row.rate.high,
            bounds=(row.bounds.low, row.bounds.high) if row.bounds else None,
            mark=TOTAL if row.group == ALL else mark_for(row.group, groups),
        )
        for row in (*result.rows, result.total)
        if row.rate is not None
    ]


def forest(
    rows: Sequence[ForestRow], words: str, axis: str = "rate, %", each: float = ROW
) -> Drawing:
    """Draw rows from top to bottom, each so high: name, counts, point, interval, numbers in words."""
    canvas = Canvas(height=TOP + each * max(1, len(rows)) + FOOT)
    # Names are bold, and on a screen in whatever font is there.
    label = min(MOST_LABEL, max([60.0, *(width_of(row.label) * 1.12 + 8 for row in rows)]))
    counts = max([30.0, *(width_of(row.counts) + 6 for row in rows)])
    written = max([84.0, *(width_of(_numbers(row)) + 4 for row in rows)])
    upper = _upper(rows)
    scale = Scale(0.0, upper, label + counts + 12, canvas.width - written - 10)
    foot = TOP + each * len(rows)
    ticks = ticks_to(upper)
    grid(canvas, (TOP - 4, foot), [scale.at(tick) for tick in ticks])
    for place, row in enumerate(rows):
        _row(canvas, row, TOP + each * place + each / 2, scale, (label, counts))
    axis_below(canvas, scale, foot, ticks, "")
    canvas.text(((scale.start + scale.end) / 2, foot + 24), axis, anchor="middle", colour=SLATE)
    return canvas.done(words)


def _row(
    canvas: Canvas, row: ForestRow, y: float, scale: Scale, columns: tuple[float, ...]
) -> None:
    base = y + SIZE / 3
    if row.estimate is None:
        canvas.text((0, base), row.label, bold=True)
        return
    canvas.text((0, base), row.label, bold=row.mark is not PUBLISHED)
    canvas.text((columns[0] + columns[1], base), row.counts, anchor="end")
    if row.bounds is not None:
        low, high = (scale.at(value * 100) for value in row.bounds)
        canvas.rect((low, y - 5), (high - low, 10), RULE)
    if row.further is not None:
        low, high = (scale.at(value * 100) for value in row.further)
        canvas.line((low, y), (high, y), row.mark.colour, 0.8, "dot")
        for end in (low, high):
            canvas.line((end, y - 2.5), (end, y + 2.5), row.mark.colour, 0.8)
    low, high = scale.at(row.low * 100), scale.at(row.high * 100)
    canvas.line((low, y), (high, y), row.mark.colour, 1.4, _dash(row.mark))
    for end in (low, high):
        canvas.line((end, y - 3.5), (end, y + 3.5), row.mark.colour, 1.1)
    canvas.symbol((scale.at(row.estimate * 100), y), row.mark.symbol, row.mark.colour)
    canvas.text((canvas.width, base), _numbers(row), anchor="end")


def _dash(mark: Mark) -> str:
    return "dash" if mark is PUBLISHED else "solid"


def _numbers(row: ForestRow) -> str:
    if row.estimate is None:
        return ""
    note = f" {row.note}" if row.note else ""
    return f"{percent(row.estimate)} ({percent(row.low)} to {percent(row.high)}){note}"


def _upper(rows: Sequence[ForestRow]) -> float:
    ends = [row.high for row in rows if row.estimate is not None]
    ends += [row.bounds[1] for row in rows if row.bounds]
    ends += [row.further[1] for row in rows if row.further]
    return min(100.0, max([5.0, *(end * 100 * 1.04 for end in ends)]))
