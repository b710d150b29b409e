"""Cumulative incidence as step curves with bands, labelled directly, numbers at risk below."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.outcomes import RISK_TABLE_DAYS, Answer, Curve
from analytics.figures.template import layout, mark_for

DAYS_A_MONTH = 365.25 / 12
TICKS = (0, 3, 6, 12, 18, 24)


def curves(result: Answer) -> dict[str, Any]:
    """Return the figure as plain JSON values. Times are when the event was found, in months."""
    drawn = [curve for curve in result.curves if len(curve.days) > 1]
    groups = [curve.group for curve in result.curves]
    figure = go.Figure()
    for curve in drawn:
        _band(figure, curve, groups)
    for curve in drawn:
        _line(figure, curve, groups)
    lines = len(drawn)
    height = 420 + 26 * (lines + 1)
    figure.update_layout(
        layout(
            f"Cumulative incidence: {result.definition.name}",
            height=height,
            margin={"l": 20, "r": 70, "t": 56, "b": 70 + 26 * (lines + 1)},
            xaxis={
                "title": {"text": "months since the operation"},
                "tickvals": list(TICKS),
                "range": [0, 25.5],
            },
            yaxis={
                "title": {"text": "incidence, %"},
                "rangemode": "tozero",
                "ticksuffix": "%",
            },
            annotations=_risk_table(drawn),
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _months(curve: Curve) -> list[float]:
    return [day / DAYS_A_MONTH for day in curve.days]


def _band(figure: go.Figure, curve: Curve, groups: list[str]) -> None:
    months = _months(curve)
    colour = mark_for(curve.group, groups).colour
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    for values, fill in ((curve.low, None), (curve.high, "tonexty")):
        figure.add_trace(
            go.Scatter(
                x=months,
                y=[value * 100 for value in values],
                mode="lines",
                line={"width": 0, "shape": "hv"},
                fill=fill,
                fillcolor=f"rgba({red},{green},{blue},0.10)",
                hoverinfo="skip",
            )
        )


def _line(figure: go.Figure, curve: Curve, groups: list[str]) -> None:
    mark = mark_for(curve.group, groups)
    values = [value * 100 for value in curve.incidence]
    figure.add_trace(
        go.Scatter(
            x=_months(curve),
            y=values,
            mode="lines+text",
            text=[""] * (len(values) - 1) + [f" {curve.group}"],
            textposition="middle right",
            textfont={"color": mark.colour},
            cliponaxis=False,
            line={"color": mark.colour, "dash": mark.dash, "width": 2.5, "shape": "hv"},
            name=curve.group,
            hovertemplate=f"{curve.group}: %{{y:.1f}}% by %{{x:.1f}} months<extra></extra>",
        )
    )


def _risk_table(drawn: list[Curve]) -> list[dict[str, Any]]:
    common = {"showarrow": False, "yref": "paper", "font": {"size": 12}, "yanchor": "top"}
    notes: list[dict[str, Any]] = [
        {
            **common,
            "xref": "paper",
            "x": 0,
            "xanchor": "left",
            "y": 0,
            "yshift": -58,
            "text": "<b>still at risk</b>",
        }
    ]
    for line, curve in enumerate(drawn, start=1):
        shift = -58 - 22 * line
        notes += [
            {
                **common,
                "x": day / DAYS_A_MONTH,
                "y": 0,
                "yshift": shift,
                "xanchor": "left" if day == 0 else "center",
                "text": f"{curve.group}: {number}" if day == 0 else str(number),
            }
            for day, number in curve.at_risk.items()
            if day in RISK_TABLE_DAYS
        ]
    return notes
