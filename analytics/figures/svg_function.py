"""Motion and scores over time, for paper: one small plot a measure, medians with the middle half."""

from collections.abc import Sequence

from analytics.answers.function import FunctionAnswer, StepRow
from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import ALL
from analytics.figures.function import APART, over_time_words
from analytics.figures.svg import SIZE, Canvas, Drawing, width_of
from analytics.figures.svg_plot import Axis, Part, Plot, plot
from analytics.figures.template import INK, Mark, mark_for

COLUMNS, EACH, GAP, KEY = 2, 122.0, 10.0, 14.0
# What stands on one line above a plot.
MOST_LETTERS = 44


def small_plots(found: Sequence[FunctionAnswer], least: int) -> Drawing:
    """Draw a plot for each measure that has a distance; groups of fewer than `least` are left out."""
    groups = list(
        dict.fromkeys(row.group for one in found for row in one.shown if row.group != ALL)
    )
    groups = groups or [ALL]
    rows = -(-max(1, len(found)) // COLUMNS)
    canvas = Canvas(height=KEY + rows * (EACH + GAP))
    _key(canvas, groups)
    wide = (canvas.width - GAP * (COLUMNS - 1)) / COLUMNS
    for place, one in enumerate(found):
        row, column = divmod(place, COLUMNS)
        corner = (column * (wide + GAP), KEY + row * (EACH + GAP))
        _measure(canvas, Part(corner, wide, EACH), one, groups, least)
    return canvas.done(" ".join(over_time_words(one) for one in found))


def _key(canvas: Canvas, groups: list[str]) -> None:
    x = 0.0
    for group in groups:
        mark = _mark(group, groups)
        canvas.line((x, 5), (x + 22, 5), mark.colour, 1.2, mark.dash)
        canvas.symbol((x + 11, 5), mark.symbol, mark.colour, 2.6)
        canvas.text((x + 26, 5 + SIZE / 3), group, bold=True)
        x += 26 + width_of(group) + 14


def _mark(group: str, groups: list[str]) -> Mark:
    return Mark(INK, "diamond", "solid") if group == ALL else mark_for(group, groups)


def _measure(
    canvas: Canvas, part: Part, found: FunctionAnswer, groups: list[str], least: int
) -> None:
    measure = found.measure
    shown = [code for code in HORIZONS if any(row.horizon.code == code for row in found.shown)]
    drawn = {
        group: [
            row
            for row in found.shown
            if row.group == group and row.number >= least and row.spread is not None
        ]
        for group in groups
    }
    ends = [row.spread.upper for rows in drawn.values() for row in rows if row.spread]
    lows = [row.spread.lower for rows in drawn.values() for row in rows if row.spread]
    better = "lower is better" if measure.lower_is_better else "higher is better"
    across = Axis(
        -0.55,
        max(len(shown) - 1, 0) + 0.55,
        ticks=tuple(float(place) for place in range(len(shown))),
        names=tuple(HORIZONS[code].name for code in shown),
    )
    up = Axis(min([0.0, *lows]), max([1.0, *ends]) * 1.06, unit=measure.unit)
    here = plot(canvas, part, across, up, f"{measure.name}: {better}"[:MOST_LETTERS])
    for place, (group, rows) in enumerate(drawn.items()):
        shift = (place - (len(groups) - 1) / 2) * min(APART, 0.8 / max(len(groups), 1))
        _group(here, rows, shown, shift, _mark(group, groups))


def _group(here: Plot, rows: list[StepRow], shown: list[str], shift: float, mark: Mark) -> None:
    points = []
    for row in rows:
        if row.spread is None:
            continue
        x = shown.index(row.horizon.code) + shift
        ends = here.at(x, row.spread.lower), here.at(x, row.spread.upper)
        here.canvas.line(*ends, mark.colour, 1.2)
        points.append((x, row.spread.median))
    if len(points) > 1:
        here.path(points, mark.colour, 0.9, mark.dash)
    for point in points:
        here.canvas.symbol(here.at(*point), mark.symbol, mark.colour, 2.2)
