"""Units against their volume inside the limits of chance; small ones grey, none of them ranked."""

import json
from typing import Any

import plotly.graph_objects as go

from analytics.answers.funnels import PLACES, Funnel, Unit
from analytics.answers.outcomes import percent
from analytics.figures.template import INK, PAPER, SLATE, layout

GREY, BEYOND = "#8d877c", "#D55E00"
LIMITS = (
    ("low_alert", "high_alert", "dash", "95%"),
    ("low_alarm", "high_alarm", "solid", "99.8%"),
)


def funnel_figure(found: Funnel) -> dict[str, Any]:
    """Return the figure as plain JSON values; empty limits where the funnel is refused."""
    figure = go.Figure()
    annotations: list[dict[str, Any]] = []
    if not found.limits.empty:
        _lines(figure, found)
        annotations = _line_names(found)
    # Names of neighbours stand by turns above and below, so that none covers the next.
    drawn = sorted(
        (unit for unit in found.units if unit.rate is not None), key=lambda unit: unit.evaluable
    )
    for place, unit in enumerate(drawn):
        _point(figure, unit, f"{'bottom' if place % 2 else 'top'} {_side(unit, drawn[-1])}")
    figure.update_layout(
        layout(
            f"{found.definition.name}, by {found.horizon.name}: {found.of}",
            note="Exact binomial limits with interpolation, 95% and 99.8%, around the rate of all.",
            height=480,
            margin={"r": 62, "b": 64},
            xaxis={"title": {"text": "cases judged"}, "rangemode": "tozero"},
            yaxis={"ticksuffix": "%", "range": [0, upper(found)]},
            annotations=annotations,
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _lines(figure: go.Figure, found: Funnel) -> None:
    volumes = found.limits.index.tolist()
    for low, high, dash, _ in LIMITS:
        for column in (low, high):
            figure.add_trace(
                go.Scatter(
                    x=volumes,
                    y=(100 * found.limits[column]).tolist(),
                    mode="lines",
                    line={"color": INK, "dash": dash, "width": 1.5},
                    hoverinfo="skip",
                )
            )
    figure.add_trace(
        go.Scatter(
            x=[volumes[0], volumes[-1]],
            y=[100 * found.target] * 2,
            mode="lines",
            line={"color": SLATE, "dash": "dot", "width": 2},
            hovertemplate=f"rate of all: {percent(found.target)}<extra></extra>",
        )
    )


def _line_names(found: Funnel) -> list[dict[str, Any]]:
    """Write at the right end of each line what it is."""
    last, end = found.limits.iloc[-1], found.limits.index[-1]
    common = {"x": end, "showarrow": False, "xanchor": "left", "xshift": 4, "font": {"size": 12}}
    notes = [{**common, "y": 100 * found.target, "text": percent(found.target)}]
    for _, high, _, name in LIMITS:
        notes.append({**common, "y": 100 * float(last[high]), "text": name})
    return notes


def _side(unit: Unit, largest: Unit) -> str:
    """Return to which side of a point its name goes: near an edge of the figure, away from it."""
    share = unit.evaluable / largest.evaluable
    return "left" if share > 0.6 else "right" if share < 0.25 else "center"


def _point(figure: go.Figure, unit: Unit, beside: str) -> None:
    rate = unit.rate
    if rate is None:
        return
    beyond = unit.place not in ("", "within")
    colour = GREY if not unit.place else BEYOND if beyond else "#0072B2"
    symbol = "circle-open" if not unit.place else "square" if beyond else "circle"
    figure.add_trace(
        go.Scatter(
            x=[unit.evaluable],
            y=[100 * rate.estimate],
            mode="markers+text",
            text=[unit.name],
            textposition=beside,
            textfont={"color": GREY if not unit.place else INK, "size": 13},
            marker={
                "color": colour,
                "symbol": symbol,
                "size": 12,
                "line": {"color": GREY if not unit.place else PAPER, "width": 1.5},
            },
            cliponaxis=False,
            hovertemplate=(
                f"{unit.name}: {unit.events} of {unit.evaluable}, {percent(rate.estimate)}; "
                f"{PLACES[unit.place]}<extra></extra>"
            ),
        )
    )


def upper(found: Funnel) -> float:
    """Leave room for every point, and for the limits where there are units enough to need them."""
    points = [100 * unit.rate.estimate for unit in found.units if unit.rate is not None]
    volumes = [unit.evaluable for unit in found.units if unit.evaluable]
    limits = 0.0
    if not found.limits.empty and volumes:
        from_here = found.limits.loc[found.limits.index >= min(20, *volumes)]
        limits = 100 * float(from_here["high_alarm"].iloc[0]) if len(from_here) else 0.0
    return float(min(105.0, max([5.0, limits * 1.05, *(point * 1.15 for point in points)])))
