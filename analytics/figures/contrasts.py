"""Differences to a chosen group, and ratios as they are beside ratios adjusted."""

import json
import math
from typing import Any

import plotly.graph_objects as go

from analytics.answers.comparison import Comparison, Effect, Model
from analytics.estimators.results import Estimate
from analytics.figures.template import INK, SLATE, layout, mark_for

# Ratios beyond these run to the edge of the figure; the table has their numbers.
LEAST, MOST = 0.02, 50.0


def differences(found: Comparison) -> dict[str, Any]:
    """Return the figure as plain JSON values: one line a group, in points of per cent."""
    groups = [found.against, *(one.group for one in found.contrasts)]
    figure = go.Figure()
    for one in reversed(found.contrasts):
        mark = mark_for(one.group, groups)
        label = f"<b>{one.group}</b>  {one.own.events}/{one.own.evaluable}"
        points = Estimate(*(value * 100 for value in _values(one.difference)))
        _interval(figure, label, points, mark.colour, mark.symbol, f"{points.estimate:+.1f}")
    reference = found.reference
    figure.update_layout(
        layout(
            f"Difference to {found.against} ({reference.events}/{reference.evaluable}), "
            f"by {found.horizon.name}",
            note="Point and line: difference of rates, 95% interval (Newcombe). Not adjusted.",
            height=190 + 56 * max(1, len(found.contrasts)),
            xaxis={"title": {"text": "points of per cent"}, "zeroline": True, "zerolinecolor": INK},
            yaxis={"showgrid": False, "type": "category"},
        )
    )
    return _plain(figure)


def ratios(model: Model, against: str) -> dict[str, Any]:
    """Return the figure as plain JSON values: open as it is, filled adjusted, on a log axis."""
    figure = go.Figure()
    for effect in reversed(model.groups):
        for words, value, filled in (
            ("adjusted", effect.adjusted, True),
            ("as it is", effect.unadjusted, False),
        ):
            if value is not None:
                symbol = "circle" if filled else "circle-open"
                label = f"<b>{effect.term.removesuffix(f' against {against}')}</b>  {words}"
                _interval(
                    figure,
                    label,
                    shown_ratio(value),
                    INK if filled else SLATE,
                    symbol,
                    _text(value),
                )
    figure.update_layout(
        layout(
            f"{model.kind[0].upper()}{model.kind[1:]}, against {against}",
            note="Open: as it is. Filled: adjusted, of the same cases. 95% intervals; log axis.",
            height=190 + 92 * max(1, len(model.groups)),
            xaxis={
                "title": {"text": "ratio"},
                "type": "log",
                "tickvals": [0.1, 0.25, 0.5, 1, 2, 4, 10],
            },
            yaxis={"showgrid": False, "type": "category"},
            shapes=[
                {
                    "type": "line",
                    "xref": "x",
                    "yref": "paper",
                    "x0": 1,
                    "x1": 1,
                    "y0": 0,
                    "y1": 1,
                    "line": {"color": INK, "width": 1},
                }
            ],
        )
    )
    return _plain(figure)


def ratio_words(model: Model) -> str:
    """State each group's ratio, as it is and adjusted, with its interval."""
    if model.refused:
        return model.refused
    parts = [_effect_words(effect) for effect in model.groups]
    return f"{model.kind[0].upper()}{model.kind[1:]}: {'; '.join(parts)}."


def _effect_words(effect: Effect) -> str:
    plain = "" if effect.unadjusted is None else f"{ratio_text(effect.unadjusted)} as it is, "
    return f"{effect.term} {plain}{ratio_text(effect.adjusted)} adjusted"


def ratio_text(value: Estimate) -> str:
    """Write a ratio with its interval; an end that no finite number holds is said."""
    return f"{_text(value)} ({_number(value.low)} to {_number(value.high)})"


def _text(value: Estimate) -> str:
    return _number(value.estimate)


def _number(value: float) -> str:
    if math.isnan(value):
        return "not known"
    if math.isinf(value) or value >= 1000:
        return "without limit"
    return f"{value:.2f}"


def shown_ratio(value: Estimate) -> Estimate:
    """Return a ratio as it is drawn: what is without limit runs to the edge."""
    return Estimate(*(min(max(one, LEAST), MOST) for one in _values(value)))


def _values(value: Estimate) -> tuple[float, float, float]:
    return value.estimate, value.low, value.high


def _interval(
    figure: go.Figure, label: str, value: Estimate, colour: str, symbol: str, text: str
) -> None:
    figure.add_trace(
        go.Scatter(
            x=[value.estimate],
            y=[label],
            mode="markers+text",
            cliponaxis=False,
            text=[text],
            textposition="top center",
            marker={"color": colour, "symbol": symbol, "size": 13},
            error_x={
                "type": "data",
                "symmetric": False,
                "array": [value.high - value.estimate],
                "arrayminus": [value.estimate - value.low],
                "color": colour,
                "thickness": 2.5,
                "width": 6,
            },
            hovertemplate=f"{label}: {text}<extra></extra>",
        )
    )


def _plain(figure: go.Figure) -> dict[str, Any]:
    plain: dict[str, Any] = json.loads(figure.to_json())
    return plain
