"""Two readings of each film: how far apart they lie, over how large the distance is."""

import json
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from analytics.answers.agreement import Row
from analytics.figures.template import INK, MARKS, SLATE, layout

LARGEST_PX, SMALLEST_PX = 22, 7


def apart(row: Row, films: pd.DataFrame, assumed: float | None = None) -> dict[str, Any]:
    """Return the figure as plain JSON values, after Bland and Altman; without lines where too few.

    `films` as from `agreement.differences`; films with the same numbers are one point, the larger the
    more there are. `assumed` is a minimal detectable change that a site assumes, drawn beside.
    """
    unit = row.measurement.unit
    figure = go.Figure()
    alike = films.assign(mean=films["mean"].round(1), difference=films["difference"].round(1))
    points = alike.groupby(["mean", "difference"]).size().reset_index(name="films")
    most = int(points["films"].max()) if len(points) else 1
    sizes = SMALLEST_PX + (LARGEST_PX - SMALLEST_PX) * ((points["films"] / most) ** 0.5)
    figure.add_trace(
        go.Scatter(
            x=points["mean"].tolist(),
            y=points["difference"].tolist(),
            customdata=points["films"].tolist(),
            mode="markers",
            marker={
                "color": MARKS[0].colour,
                "size": [round(float(size), 1) for size in sizes],
                "opacity": 0.55,
                "line": {"color": INK, "width": 0.5},
            },
            hovertemplate=(
                f"mean %{{x:.1f}}, apart %{{y:+.1f}} {unit}, films: %{{customdata}}<extra></extra>"
            ),
        )
    )
    shapes, notes = _lines(row, assumed)
    figure.update_layout(
        layout(
            f"{row.measurement.name}: {row.shift}",
            note="Solid: the mean difference. Dashed: between these lie 19 in 20. Bands: 95% intervals.",
            height=480,
            margin={"r": 96, "b": 64},
            xaxis={"title": {"text": f"mean of both readings, {_axis(unit)}"}},
            yaxis={"title": {"text": f"difference, {_axis(unit)}"}, "zeroline": True},
            shapes=shapes,
            annotations=notes,
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def apart_words(row: Row) -> str:
    """Say in words what the figure shows."""
    unit, limits = row.measurement.unit, row.limits
    if limits is None:
        return (
            f"{row.measurement.name}: {row.pairs} film{'' if row.pairs == 1 else 's'} read twice, "
            "too few for lines."
        )
    return (
        f"{row.measurement.name}, {row.shift}, over the mean of both: {row.pairs} films. Mean "
        f"difference {limits.mean.estimate:+.2f} {unit} ({limits.mean.low:+.2f} to "
        f"{limits.mean.high:+.2f}); 19 in 20 lie between {limits.low:+.1f} "
        f"({limits.lower.low:+.1f} to {limits.lower.high:+.1f}) and {limits.high:+.1f} "
        f"({limits.upper.low:+.1f} to {limits.upper.high:+.1f}) {unit}."
    )


def _axis(unit: str) -> str:
    return "per cent points" if unit == "points" else unit


def _lines(row: Row, assumed: float | None) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    if row.limits is None:
        return [], []
    shapes, notes = [], []
    for estimate, dash, word in (
        (row.limits.mean, "solid", "mean"),
        (row.limits.lower, "dash", "limit"),
        (row.limits.upper, "dash", "limit"),
    ):
        shapes.append(_band(estimate.low, estimate.high))
        shapes.append(_line(estimate.estimate, dash, INK))
        notes.append(_note(estimate.estimate, f"{word} {estimate.estimate:+.1f}"))
    for side in (-1, 1) if assumed else ():
        shapes.append(_line(side * (assumed or 0), "dot", SLATE))
        notes.append(_note(side * (assumed or 0), f"assumed {side * (assumed or 0):+.1f}", "left"))
    return shapes, notes


def _band(low: float, high: float) -> dict[str, Any]:
    whole = {"xref": "paper", "x0": 0, "x1": 1, "yref": "y", "layer": "below"}
    return {
        **whole,
        "type": "rect",
        "y0": low,
        "y1": high,
        "fillcolor": "rgba(29,27,24,0.08)",
        "line": {"width": 0},
    }


def _line(at: float, dash: str, colour: str) -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": "y",
        "y0": at,
        "y1": at,
        "line": {"color": colour, "dash": dash, "width": 1.5},
    }


def _note(at: float, text: str, side: str = "right") -> dict[str, Any]:
    right = side == "right"
    return {
        "xref": "paper",
        "x": 1 if right else 0,
        "xanchor": "left",
        "xshift": 4,
        "yref": "y",
        "y": at,
        "yanchor": "middle" if right else "bottom",
        "text": text,
        "showarrow": False,
        "font": {"size": 12, "color": INK if right else SLATE},
    }
