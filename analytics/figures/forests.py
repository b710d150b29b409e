"""Rates by group as points with intervals, and pale bars for what the missing could change."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.outcomes import Answer, GroupRow, percent
from analytics.figures.template import INK, RULE, SLATE, layout, mark_for


def forest(result: Answer) -> dict[str, Any]:
    """Return the figure as plain JSON values: one line a group, n/N written beside it."""
    rows = [row for row in (*result.rows, result.total) if row.rate is not None]
    groups = [row.group for row in result.rows]
    figure = go.Figure()
    upper = _upper(rows)
    for row in reversed(rows):
        _missing_bar(figure, row)
        _point(figure, row, groups, upper)
    figure.update_layout(
        layout(
            f"{result.definition.name}, by {result.horizon.name}",
            note="Point and line: rate, 95% interval. Pale bar: if none or all not judged had it.",
            height=170 + 56 * max(1, len(rows)),
            xaxis={"title": {"text": "rate, %"}, "range": [0, upper], "ticksuffix": "%"},
            yaxis={"showgrid": False, "type": "category"},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _label(row: GroupRow) -> str:
    return f"<b>{row.group}</b>  {row.events}/{row.evaluable}"


def _missing_bar(figure: go.Figure, row: GroupRow) -> None:
    if row.bounds is None:
        return
    ends = [row.bounds.low * 100, row.bounds.high * 100]
    figure.add_trace(
        go.Scatter(
            x=ends,
            y=[_label(row)] * 2,
            mode="lines",
            line={"color": RULE, "width": 16},
            hovertemplate=(
                f"if none or all not judged had it: {ends[0]:.1f}% to {ends[1]:.1f}%<extra></extra>"
            ),
        )
    )


def _point(figure: go.Figure, row: GroupRow, groups: list[str], upper: float) -> None:
    rate = row.rate
    if rate is None:
        return
    total = row.group not in groups
    mark = None if total else mark_for(row.group, groups)
    figure.add_trace(
        go.Scatter(
            x=[rate.estimate * 100],
            y=[_label(row)],
            mode="markers+text",
            text=[percent(rate.estimate)],
            textposition=_place(rate.estimate * 100 / upper),
            cliponaxis=False,
            marker={
                "color": mark.colour if mark else INK,
                "symbol": mark.symbol if mark else "diamond-open",
                "size": 13,
            },
            error_x={
                "type": "data",
                "symmetric": False,
                "array": [(rate.high - rate.estimate) * 100],
                "arrayminus": [(rate.estimate - rate.low) * 100],
                "color": mark.colour if mark else SLATE,
                "thickness": 2.5,
                "width": 6,
            },
            hovertemplate=(
                f"{row.events} of {row.evaluable}: {percent(rate.estimate)} "
                f"({percent(rate.low)} to {percent(rate.high)})<extra></extra>"
            ),
        )
    )


def _place(along: float) -> str:
    """Return where a number stands: at either edge of the figure a centred one would be cut."""
    if along > 0.85:
        return "top left"
    return "top center" if along > 0.1 else "top right"


def _upper(rows: list[GroupRow]) -> float:
    ends = [row.rate.high for row in rows if row.rate] + [
        row.bounds.high for row in rows if row.bounds
    ]
    return min(100.0, max([5.0, *(end * 100 * 1.06 for end in ends)]))
