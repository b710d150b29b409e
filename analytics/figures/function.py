"""Motion and scores over time: medians with quartiles by group; levels as ordered bars."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.function import FunctionAnswer, StepRow
from analytics.answers.horizons import HORIZONS
from analytics.answers.measures import LEVELS, Measure
from analytics.answers.outcomes import ALL
from analytics.figures.template import INK, PAPER, layout, mark_for

# How far the groups of one horizon stand from one another; a horizon is one apart from the next.
APART = 0.11
SHADES = ("#1d1b18", "#4a5560", "#7a8791", "#a9b2b8", "#d3d8da", "#fbf8f1")


def over_time(found: FunctionAnswer, least: int) -> dict[str, Any]:
    """Return the figure as plain JSON values; groups of fewer than `least` are left to the table."""
    measure = found.measure
    if measure.kind == "level":
        return _levels(found)
    groups = list(dict.fromkeys(row.group for row in found.shown if row.group != ALL))
    shown = [code for code in HORIZONS if any(r.horizon.code == code for r in found.shown)]
    figure = go.Figure()
    for place, group in enumerate(groups or [ALL]):
        mine = [row for row in found.shown if row.group == group and row.number >= least]
        shift = (place - (len(groups) - 1) / 2) * min(APART, 0.8 / max(len(groups), 1))
        _group(figure, mine, shown, shift, groups or [ALL])
    figure.update_layout(
        layout(
            f"{measure.name}, {_better(measure)}",
            note=f"Mark: median. Bar: the middle half. Groups of fewer than {least} are not drawn.",
            height=470,
            showlegend=True,
            legend={
                "orientation": "h",
                "x": 0,
                "y": 0,
                "yref": "container",
                "yanchor": "bottom",
                "font": {"size": 13},
            },
            margin={"b": 110},
            xaxis={
                "tickvals": list(range(len(shown))),
                # On a phone one line would be turned and cut.
                "ticktext": [HORIZONS[code].name.replace(" ", "<br>") for code in shown],
                "tickangle": 0,
                "range": [-0.55, max(len(shown) - 1, 0) + 0.55],
                "showgrid": False,
            },
            yaxis={"ticksuffix": measure.unit, "rangemode": "tozero"},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _group(
    figure: go.Figure, rows: list[StepRow], shown: list[str], shift: float, groups: list[str]
) -> None:
    drawn = [(row, row.spread) for row in rows if row.spread is not None]
    if not drawn:
        return
    name = drawn[0][0].group
    mark = mark_for(name, groups)
    figure.add_trace(
        go.Scatter(
            x=[shown.index(row.horizon.code) + shift for row, _ in drawn],
            y=[parts.median for _, parts in drawn],
            mode="lines+markers",
            name=name,
            line={"color": mark.colour, "dash": mark.dash, "width": 1.5},
            marker={"color": mark.colour, "symbol": mark.symbol, "size": 9},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": [parts.upper - parts.median for _, parts in drawn],
                "arrayminus": [parts.median - parts.lower for _, parts in drawn],
                "color": mark.colour,
                "thickness": 2,
                "width": 3,
            },
            customdata=[row.number for row, _ in drawn],
            hovertemplate=f"{name}: median %{{y}}, of %{{customdata}}<extra></extra>",
        )
    )


def _levels(found: FunctionAnswer) -> dict[str, Any]:
    rows = [row for row in found.shown if row.group == ALL and row.number]
    figure = go.Figure()
    for place, name in enumerate(LEVELS):
        figure.add_trace(
            go.Bar(
                x=[100 * row.levels[place] / row.number for row in rows],
                y=[f"<b>{row.horizon.name}</b>  {row.number}" for row in rows],
                orientation="h",
                name=name,
                text=[
                    str(row.levels[place]) if row.levels[place] >= row.number * 0.035 else ""
                    for row in rows
                ],
                textposition="inside",
                insidetextanchor="middle",
                textangle=0,
                insidetextfont={"color": PAPER if place < 3 else INK, "size": 12},
                marker={"color": SHADES[place], "line": {"color": INK, "width": 1}},
                hovertemplate=f"{name}: %{{x:.1f}}%<extra></extra>",
            )
        )
    figure.update_layout(
        layout(
            f"{found.measure.name}: the highest level reached",
            note="From the lowest, dark, to the highest, light. Numbers of exams in the bars.",
            height=280 + 40 * len(rows),
            barmode="stack",
            showlegend=True,
            legend={
                "orientation": "h",
                "traceorder": "normal",
                "x": 0,
                "y": 0,
                "yref": "container",
                "yanchor": "bottom",
                "font": {"size": 12},
            },
            margin={"b": 120},
            xaxis={"range": [0, 100], "ticksuffix": "%"},
            yaxis={"type": "category", "autorange": "reversed", "showgrid": False},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _better(measure: Measure) -> str:
    return "lower is better" if measure.lower_is_better else "higher is better"


def over_time_words(found: FunctionAnswer) -> str:
    """State the middle of all at each horizon, with the numbers, and the chosen horizon by group."""
    total = [row for row in found.shown if row.group == ALL and row.number]
    if not total:
        return f"{found.measure.name} has not been recorded in this cohort."
    parts = [
        f"{row.horizon.name}: {middle(found.measure, row)}, {row.number} of {row.eligible}"
        for row in total
    ]
    groups = [
        f"{row.group} {middle(found.measure, row)} ({row.number})"
        for row in found.shown
        if row.horizon.code == found.horizon.code and row.group != ALL and row.number
    ]
    by = f" At {found.horizon.name} by group: {'; '.join(groups)}." if groups else ""
    return (
        f"{found.measure.name} ({found.measure.direction}), median with the middle half. "
        f"{'; '.join(parts)}.{by}"
    )


def middle(measure: Measure, row: StepRow) -> str:
    """Write the median with the quartiles of one row, or the levels in their order."""
    if row.quartiles is not None:
        lower, median, upper = row.quartiles
        return f"{median} ({lower} to {upper})"
    if row.spread is None:
        return "none"
    values = (row.spread.median, row.spread.lower, row.spread.upper)
    median, lower, upper = (f"{round(value, 1):g}{measure.unit}" for value in values)
    return f"{median} ({lower} to {upper})"
