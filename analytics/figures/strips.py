"""One rate under every definition: points with intervals over pale bars for the missing."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.outcomes import percent
from analytics.answers.sensitivity import Line, Strip
from analytics.figures.template import INK, RULE, SLATE, layout


def strip(result: Strip, own: str = "") -> dict[str, Any]:
    """Return the figure as plain JSON values; the definition that stands (`own`) has a filled mark."""
    lines = [line for line in result.lines if line.total.rate is not None]
    figure = go.Figure()
    upper = _upper(lines)
    for line in reversed(lines):
        _bar(figure, line)
        _point(figure, line, upper, stands=line.definition.id == own)
    figure.update_layout(
        layout(
            f"The rate by {result.horizon.name} under each definition",
            note="Point and line: rate, 95% interval; filled: the definition shown above. "
            "Pale bar: if none or all not judged had it.",
            height=190 + 56 * max(1, len(lines)),
            xaxis={"title": {"text": "rate, %"}, "range": [0, upper], "ticksuffix": "%"},
            yaxis={"showgrid": False, "type": "category"},
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _label(line: Line) -> str:
    return f"<b>{line.definition.id}</b>  {line.total.events}/{line.total.evaluable}"


def _bar(figure: go.Figure, line: Line) -> None:
    bounds = line.total.bounds
    if bounds is None:
        return
    figure.add_trace(
        go.Scatter(
            x=[bounds.low * 100, bounds.high * 100],
            y=[_label(line)] * 2,
            mode="lines",
            line={"color": RULE, "width": 16},
            hovertemplate=(
                f"if none or all not judged had it: {percent(bounds.low)} to "
                f"{percent(bounds.high)}<extra></extra>"
            ),
        )
    )


def _point(figure: go.Figure, line: Line, upper: float, *, stands: bool) -> None:
    rate = line.total.rate
    if rate is None:
        return
    share, low, high = (value * 100 for value in (rate.estimate, rate.low, rate.high))
    figure.add_trace(
        go.Scatter(
            x=[share],
            y=[_label(line)],
            mode="markers+text",
            text=[percent(rate.estimate)],
            # At the left edge a centred number would be cut.
            textposition="top center" if share > upper * 0.1 else "top right",
            marker={"color": INK, "symbol": "circle" if stands else "circle-open", "size": 12},
            error_x={
                "type": "data",
                "symmetric": False,
                "array": [high - share],
                "arrayminus": [share - low],
                "color": INK if stands else SLATE,
                "thickness": 2.5 if stands else 1.5,
                "width": 6,
            },
            hovertemplate=(
                f"{line.definition.name}: {line.total.events} of {line.total.evaluable}, "
                f"{share:.1f}% ({low:.1f}% to {high:.1f}%)<extra></extra>"
            ),
        )
    )


def _upper(lines: list[Line]) -> float:
    ends = [line.total.rate.high for line in lines if line.total.rate] + [
        line.total.bounds.high for line in lines if line.total.bounds
    ]
    return min(100.0, max([5.0, *(end * 100 * 1.06 for end in ends)]))
