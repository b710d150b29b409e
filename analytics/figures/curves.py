"""Cumulative incidence as step curves, labelled directly, numbers at risk below."""

import json
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go

from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import RISK_TABLE_DAYS, Answer, Curve
from analytics.estimators.results import Estimate
from analytics.figures.template import PAPER, Mark, layout, mark_for, pale

DAYS_A_MONTH = 365.25 / 12
TICKS = (0, 6, 12, 18, 24, 30)
# No curve is drawn beyond the window of the last horizon.
LAST_DAY = HORIZONS["24m"].last_day
# More bands than this hide one another; each curve then has one bar, at the horizon.
MOST_BANDS = 3
LINE_PX = 22


@dataclass(frozen=True)
class Steps:
    """A curve as drawn: months, and shares in per cent."""

    group: str
    months: tuple[float, ...]
    share: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    at_risk: tuple[int, ...]


def steps(result: Answer) -> list[Steps]:
    """Return the curves that can be drawn, each up to where too few remain at risk."""
    return [_steps(curve) for curve in result.curves if len(curve.days) > 1]


def _steps(curve: Curve) -> Steps:
    kept = [place for place, day in enumerate(curve.days) if day <= LAST_DAY]
    end = min(curve.stops_at, LAST_DAY)
    places, days = [*kept, kept[-1]], [*(curve.days[place] for place in kept), end]

    def per_cent(values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(values[place] * 100 for place in places)

    return Steps(
        group=curve.group,
        months=tuple(day / DAYS_A_MONTH for day in days),
        share=per_cent(curve.incidence),
        low=per_cent(curve.low),
        high=per_cent(curve.high),
        at_risk=tuple(curve.at_risk[day] for day in RISK_TABLE_DAYS),
    )


def curves(result: Answer) -> dict[str, Any]:
    """Return the figure as plain JSON values. Times are when the event was found, in months."""
    drawn = steps(result)
    groups = [curve.group for curve in result.curves]
    figure = go.Figure()
    few = len(drawn) <= MOST_BANDS
    of_table = {row.group: row.incidence.estimate for row in result.rows}
    for curve in drawn if few else ():
        _band(figure, curve, groups)
    for place, curve in enumerate(drawn):
        _line(figure, curve, groups)
        if not few:
            mark = mark_for(curve.group, groups)
            last = min(result.horizon.last_day / DAYS_A_MONTH, curve.months[-1])
            # Side by side, so that bars do not hide one another, and inside the figure.
            month = last - (len(drawn) - 1 - place) * 0.45
            _bar(figure, curve.group, mark, of_table[curve.group], month)
    below = 78 + LINE_PX * (len(drawn) + 1)
    left = max([74, *(24 + 8 * len(curve.group) for curve in drawn)])
    figure.update_layout(
        layout(
            f"Cumulative incidence: {result.definition.name}",
            note="Shaded: 95% interval."
            if few
            else f"Bars: 95% interval by {result.horizon.name}, to the end of its window.",
            height=430 + below,
            margin={"l": left, "r": 64, "b": below},
            xaxis={
                "title": {"text": "months since the operation"},
                "tickvals": list(TICKS),
                "range": [0, _last_month(drawn)],
            },
            yaxis={"rangemode": "tozero", "ticksuffix": "%"},
            annotations=[*_names(drawn, groups), *_risk_table(drawn, left)],
        )
    )
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain


def _last_month(drawn: list[Steps]) -> float:
    return max([TICKS[2] + 0.5, *(curve.months[-1] * 1.02 for curve in drawn)])


def _band(figure: go.Figure, curve: Steps, groups: list[str]) -> None:
    for values, fill in ((curve.low, None), (curve.high, "tonexty")):
        figure.add_trace(
            go.Scatter(
                x=curve.months,
                y=values,
                mode="lines",
                line={"width": 0, "shape": "hv"},
                fill=fill,
                fillcolor=pale(mark_for(curve.group, groups).colour),
                hoverinfo="skip",
            )
        )


def _line(figure: go.Figure, curve: Steps, groups: list[str]) -> None:
    mark = mark_for(curve.group, groups)
    figure.add_trace(
        go.Scatter(
            x=curve.months,
            y=curve.share,
            mode="lines",
            line={"color": mark.colour, "dash": mark.dash, "width": 2.5, "shape": "hv"},
            name=curve.group,
            hovertemplate=f"{curve.group}: %{{y:.1f}}% by %{{x:.1f}} months<extra></extra>",
        )
    )


def _bar(figure: go.Figure, group: str, mark: Mark, found: Estimate | None, month: float) -> None:
    """Draw the table's incidence and its interval where the horizon's window, or the curve, ends."""
    if found is None:
        return
    share, low, high = (value * 100 for value in (found.estimate, found.low, found.high))
    figure.add_trace(
        go.Scatter(
            x=[month],
            y=[share],
            mode="markers",
            marker={"color": mark.colour, "symbol": mark.symbol, "size": 9},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": [high - share],
                "arrayminus": [share - low],
                "color": mark.colour,
                "thickness": 1.5,
                "width": 4,
            },
            hovertemplate=(f"{group}: {share:.1f}% ({low:.1f}% to {high:.1f}%)<extra></extra>"),
        )
    )


def _names(drawn: list[Steps], groups: list[str]) -> list[dict[str, Any]]:
    """Write each curve's name at its end, moved up where it would cover another's."""
    top = max((max(curve.high) for curve in drawn), default=1.0)
    placed: list[tuple[float, float]] = []
    notes = []
    for curve in sorted(drawn, key=lambda one: one.share[-1]):
        # On the axis a name would cover the axis's own numbers.
        month, height = curve.months[-1], max(curve.share[-1], top * 0.04)
        for other_month, other_height in placed:
            if abs(month - other_month) < 7:
                height = max(height, other_height + top * 0.06)
        placed.append((month, height))
        notes.append(
            {
                "x": month,
                "y": height,
                "text": curve.group,
                # Text in ink is legible in every colour's place; the frame has the colour.
                "font": {"size": 13},
                "bgcolor": PAPER,
                "bordercolor": mark_for(curve.group, groups).colour,
                "borderpad": 2,
                "showarrow": False,
                "xanchor": "left",
                "xshift": 4,
            }
        )
    return notes


def _risk_table(drawn: list[Steps], margin: int) -> list[dict[str, Any]]:
    common = {"showarrow": False, "yref": "paper", "y": 0, "yanchor": "top"}
    left = {**common, "xref": "paper", "x": 0, "xanchor": "right", "xshift": -14}
    last = _last_month(drawn)
    notes: list[dict[str, Any]] = [
        {
            **left,
            "xanchor": "left",
            "xshift": 8 - margin,
            "yshift": -58,
            "text": "<b>still at risk</b>",
        }
    ]
    for line, curve in enumerate(drawn, start=1):
        shift = -58 - LINE_PX * line
        notes.append({**left, "yshift": shift, "text": curve.group, "font": {"size": 13}})
        notes += [
            {**common, "x": day / DAYS_A_MONTH, "yshift": shift, "text": str(number)}
            for day, number in zip(RISK_TABLE_DAYS, curve.at_risk, strict=True)
            if day / DAYS_A_MONTH <= last
        ]
    return notes
