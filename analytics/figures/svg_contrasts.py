"""Values about a line for paper: differences, ratios on a log axis, standardised differences."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10

from analytics.answers.balance import LINE
from analytics.answers.balance import Comparison as Balance
from analytics.answers.comparison import Comparison, Model
from analytics.estimators.results import Estimate
from analytics.figures.balance import APART, FURTHEST, dot_words, drawable
from analytics.figures.contrasts import ratio_text, ratio_words, shown_ratio
from analytics.figures.svg import (
    SIZE,
    Canvas,
    Drawing,
    Scale,
    axis_below,
    grid,
    width_of,
)
from analytics.figures.svg_plot import ticks_between
from analytics.figures.template import INK, SLATE, Mark, mark_for

ROW, TOP, FOOT = 13.5, 8.0, 32.0
RATIOS = (0.02, 0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 10.0, 50.0)


@dataclass(frozen=True)
class Line:
    """One line: a value with or without an interval, its name and counts, and its numbers in words."""

    label: str
    value: Estimate
    mark: Mark
    columns: tuple[str, ...] = ()
    text: str = ""


def differences(found: Comparison) -> Drawing:
    """Draw each group's difference to the reference, in points of per cent."""
    groups = [found.against, *(one.group for one in found.contrasts)]
    lines = [
        Line(
            one.group,
            Estimate(*(value * 100 for value in _ends(one.difference))),
            mark=mark_for(one.group, groups),
            columns=(f"{one.own.events}/{one.own.evaluable}",),
            text="{:+.1f} ({:+.1f} to {:+.1f})".format(
                *(value * 100 for value in _ends(one.difference))
            ),
        )
        for one in found.contrasts
    ]
    return about_line(lines, found.sentence, f"points of per cent, against {found.against}")


def ratios(model: Model, against: str) -> Drawing:
    """Draw each group's ratio on a log axis: open as it is, filled adjusted."""
    lines = []
    for effect in model.groups:
        group = effect.term.removesuffix(f" against {against}")
        for words, value, mark in (
            ("as it is", effect.unadjusted, Mark(SLATE, "circle-open", "solid")),
            ("adjusted", effect.adjusted, Mark(INK, "circle", "solid")),
        ):
            if value is not None:
                ends = Estimate(*(log10(end) for end in _ends(shown_ratio(value))))
                lines.append(Line(f"{group}, {words}", ends, mark, text=ratio_text(value)))
    return about_line(lines, ratio_words(model), f"{model.kind}, against {against}", log=True)


def dots(found: Balance) -> Drawing:
    """Draw standardised differences with the line that some authors draw at 0.1 either way."""
    lines = [
        Line(
            trait.label,
            Estimate(*([min(max(trait.difference or 0.0, -FURTHEST), FURTHEST)] * 3)),
            mark=Mark(APART, "square", "solid")
            if trait.apart
            else Mark(SLATE, "circle-open", "solid"),
            columns=(trait.one, trait.two),
            text=f"{trait.difference:+z.2f}",
        )
        for trait in found.traits
        if drawable(trait)
    ]
    words = "standard deviations apart"
    heads = tuple(
        f"{name} ({number})"
        for name, number in zip((found.one, found.two), found.numbers, strict=True)
    )
    return about_line(lines, dot_words(found), words, beside=(-LINE, LINE), heads=heads)


def about_line(
    lines: Sequence[Line],
    words: str,
    axis: str,
    *,
    log: bool = False,
    beside: tuple[float, ...] = (),
    heads: tuple[str, ...] = (),
) -> Drawing:
    """Draw lines from top to bottom about 0, or about a ratio of 1, with dashed lines beside it.

    `heads` stand over the columns of numbers, where those have to be named.
    """
    top = TOP + (ROW if heads else 0.0)
    canvas = Canvas(height=top + ROW * max(1, len(lines)) + FOOT)
    ends = _columns(lines, heads)
    text = max([30.0, *(width_of(line.text) + 4 for line in lines)])
    low = min([0.0, *beside, *(line.value.low for line in lines)])
    high = max([0.0, *beside, *(line.value.high for line in lines)])
    room = max((high - low) * 0.05, 0.02)
    scale = Scale(low - room, high + room, ends[-1] + 12, canvas.width - text - 10)
    foot = top + ROW * len(lines)
    for place, head in enumerate(heads, 1):
        canvas.text((ends[place], top - 3), head, anchor="end", bold=True, size=SIZE - 1)
    ticks = _ticks(scale, log=log)
    grid(canvas, (top - 4, foot), [scale.at(tick) for tick, _ in ticks])
    for value in beside:
        canvas.line((scale.at(value), top - 4), (scale.at(value), foot), SLATE, 0.9, "dash")
    canvas.line((scale.at(0.0), top - 4), (scale.at(0.0), foot), INK, 1.0)
    for number, line in enumerate(lines):
        _line(canvas, line, top + ROW * (number + 0.5), scale, ends)
    axis_below(canvas, scale, foot, (), "")
    for tick, name in ticks:
        canvas.line((scale.at(tick), foot), (scale.at(tick), foot + 3), INK, 0.8)
        canvas.text((scale.at(tick), foot + 12), name, anchor="middle")
    canvas.text(((scale.start + scale.end) / 2, foot + 26), axis, anchor="middle", colour=SLATE)
    return canvas.done(words)


def _columns(lines: Sequence[Line], heads: tuple[str, ...]) -> list[float]:
    """Return where the names end, and then where each column of numbers does."""
    ends = [max([50.0, *(width_of(line.label) + 2 for line in lines)])]
    for place in range(max([0, *(len(line.columns) for line in lines)])):
        wide = [width_of(line.columns[place]) for line in lines]
        wide += [width_of(heads[place])] if heads else []
        ends.append(ends[-1] + max(wide) + 8)
    return ends


def _line(canvas: Canvas, line: Line, y: float, scale: Scale, ends: Sequence[float]) -> None:
    base = y + SIZE / 3
    canvas.text((0, base), line.label)
    for end, words in zip(ends[1:], line.columns, strict=True):
        canvas.text((end, base), words, anchor="end")
    low, high = scale.at(line.value.low), scale.at(line.value.high)
    if line.value.low < line.value.high:
        canvas.line((low, y), (high, y), line.mark.colour, 1.3)
        for end in (low, high):
            canvas.line((end, y - 3), (end, y + 3), line.mark.colour, 1.0)
    canvas.symbol((scale.at(line.value.estimate), y), line.mark.symbol, line.mark.colour, 2.8)
    canvas.text((canvas.width, base), line.text, anchor="end")


def _ticks(scale: Scale, *, log: bool) -> list[tuple[float, str]]:
    if log:
        places = ((log10(tick), f"{tick:g}") for tick in RATIOS)
        return [one for one in places if scale.low <= one[0] <= scale.high]
    return [(tick, f"{tick:g}") for tick in ticks_between(scale.low, scale.high)]


def _ends(value: Estimate) -> tuple[float, float, float]:
    return value.estimate, value.low, value.high
